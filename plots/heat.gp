# Heat of a winch motor: pulls until the winding is as hot as it may be, then rest; time allowed.
#
# Tables: warming   1 s, 2..5 winding degC, pulling 100, 75, 50, 25 % of rated until `most`, then resting
#         allowed   1 pull N, 2 s to `most` from the outside air, 3 s again after one such pull and 5 min
# Variables: title (text); amps_1..amps_4; rated_N; most, class_limit, ambient (degC); force_k, force_name,
#            degree_k, degree_0, degree_name

page_w = 900
page_h = 540
load plot_folder.'/style.gp'

shown(T) = degree_k * T + degree_0
answer = sprintf('From %.0f %s; a plan stays below %.0f, the insulation is made for %.0f %s. The case cools much slower than the winding.', \
    shown(ambient), degree_name, shown(most), shown(class_limit), degree_name)

set multiplot
set tmargin at screen from_top(130)
set bmargin at screen from_top(page_h - 62)
set lmargin at screen 0.07
set rmargin at screen 0.50
set xrange [0:20]
set xtics 5
set xlabel 'minutes' offset 0, 0.3
heat_low = shown(ambient < 0 ? ambient : 0)
heat_step = nice_step(shown(class_limit) - heat_low, 7)
set yrange [heat_step * floor(heat_low / heat_step):heat_step * ceil(1.02 * shown(class_limit) / heat_step)]
set ytics heat_step
heading = 'Winding in one long pull and the rest after it, '.degree_name
@page_head
@panel_head
set label sprintf('plan: at most %.0f', shown(most)) at graph 1, first shown(most) right offset -0.4, 0.6 font ',10' textcolor rgb ink_text front
set key at graph 0.98, graph 0.02 right bottom vertical font ',10.5' title 'pull' font ',10.5' noinvert maxrows 6
name(share, amps) = sprintf('%d %% of rated, %.0f A', share, amps)
plot warming using ($1 / 60):(shown($2)) with lines linestyle 3 title name(100, amps_1), \
    warming using ($1 / 60):(shown($3)) with lines linestyle 2 title name(75, amps_2), \
    warming using ($1 / 60):(shown($4)) with lines linestyle 1 title name(50, amps_3), \
    warming using ($1 / 60):(shown($5)) with lines linestyle 4 title name(25, amps_4), \
    shown(most) with lines linestyle 9
unset label

set lmargin at screen 0.575
set rmargin at screen 0.975
set yrange [*:*] # else stats leaves out what lies beyond the panel before
stats allowed using (force_k * $1) nooutput name 'PULL'
set xrange [0:PULL_max]
set xtics nice_step(PULL_max, 6)
set logscale y
set yrange [10:600]
set ytics ('10 s' 10, '20' 20, '30 s' 30, '1 min' 60, '2' 120, '5 min' 300, '10 min' 600)
set xlabel 'pull in the line, '.force_name offset 0, 0.3
heading = 'Longest pull that the motor allows'
@panel_head
set arrow from force_k * rated_N, graph 0 to force_k * rated_N, graph 1 nohead linestyle 9 front
set label 'rated' at force_k * rated_N, graph 1 right offset -0.6, -0.8 font ',10' textcolor rgb ink_text front
set key title ''
set key at graph 0.02, graph 0.03 left bottom Left reverse vertical font ',10.5'
plot allowed using (force_k * $1):2 with lines linestyle 1 linewidth 2.6 title 'cold motor', \
    allowed using (force_k * $1):3 with lines linestyle 3 title 'after one such pull, 5 min of rest'
unset multiplot
set output
