# A battery by itself: runtime beside Peukert's line, volts in a pull, current that it takes back.
#
# Tables: runtime    1 A, 2 s at 25 degC, 3 s by Peukert, 4 s at 0 degC (NaN: not to be had)
#         pulls      1 s, 2..5 V at 100, 200, 300, 400 A for a minute, then rest
#         charging   1 state of charge, 2 A rested 25 degC, 3 A just emptied by 300 A, 4 A rested 0 degC
# Variables: title (text); c20_Ah, rc_min, cca_A, peukert, end_V, lead (1 or 0)

page_w = 900
page_h = 820
load plot_folder.'/style.gp'

answer = sprintf('%.0f Ah at the 20 h rate, %.0f min at 25 A, %.0f A cold cranking; Peukert exponent %.2f', \
    c20_Ah, rc_min, cca_A, peukert)
stats runtime using 1 nooutput name 'AMPS'
stats runtime using ($2 / 60) nooutput name 'WARM'
stats runtime using ($4 / 60) nooutput name 'COLD'
stats charging using 3 nooutput name 'FRESH'
stats charging using 2 nooutput name 'RESTED'

set multiplot
# ---- runtime
set lmargin at screen 0.075
set rmargin at screen 0.965
set tmargin at screen from_top(112)
set bmargin at screen from_top(432)
set logscale xy
set xrange [AMPS_min:AMPS_max]
set yrange [0.8 * least(WARM_min, 3):2.0 * WARM_max]
set xtics (1, 2, 3, 5, 10, 20, 30, 50, 100, 200, 300, 500, 1000)
set ytics ('1 min' 1, '2' 2, '5' 5, '10 min' 10, '20' 20, '1 h' 60, '2' 120, '5 h' 300, '10 h' 600, '20 h' 1200)
set xlabel 'constant current, A' offset 0, 0.5
set key at graph 1, graph key_above(320) right top horizontal font ',10.5'
heading = sprintf('How long it lasts, from full to %.1f V', end_V)
@page_head
@panel_head
set label sprintf('%.0f min at 25 A', rc_min) at 25, rc_min left offset 0.8, 0.9 font ',10.5' textcolor rgb ink_text front
set label sprintf('20 h at %.1f A', c20_Ah / 20) at c20_Ah / 20, 1200 left offset 0.8, 0.9 font ',10.5' textcolor rgb ink_text front
plot runtime using 1:($3 / 60) with lines linestyle 2 linewidth 4 title "Peukert's law", \
    runtime using 1:($2 / 60) with lines linestyle 1 title 'two wells, 25 °C', \
    runtime using 1:($4 / 60) with lines linestyle 4 linewidth 1.8 title 'at 0 °C', \
    '+' using (25.0):(rc_min) every ::0::0 with points pointtype 7 pointsize 1.1 linecolor rgb ink_text, \
    '+' using (c20_Ah / 20):(1200.0) every ::0::0 with points pointtype 7 pointsize 1.1 linecolor rgb ink_text
unset label
unset logscale

# ---- a pull
set lmargin at screen 0.075
set rmargin at screen 0.48
set tmargin at screen from_top(530)
set bmargin at screen from_top(page_h - 60)
set xrange [0:180]
set yrange [*:*]
set autoscale yfix
set xtics 30
set ytics autofreq
set xlabel 'seconds' offset 0, 0.3
heading = 'A minute of pull, then rest, 25 °C: V at the posts'
@panel_head
set key at graph 0.98, graph 0.04 right bottom vertical maxrows 4 font ',10.5' noinvert
set object 1 rectangle from 0, graph 0 to 60, graph 1 behind fillcolor rgb ink_pull fillstyle solid 1.0 noborder
stats pulls using 2 nooutput name 'V'
stats pulls using 5 nooutput name 'VLOW'
stats pulls using 4 nooutput name 'VMID'
set yrange [floor(2 * least(VLOW_records > 0 ? VLOW_min : VMID_min, V_min)) / 2.0 : ceil(2 * V_max) / 2.0]
plot pulls using 1:2 with lines linestyle 4 title '100 A', \
    pulls using 1:3 with lines linestyle 2 title '200 A', \
    pulls using 1:4 with lines linestyle 1 title '300 A', \
    pulls using 1:5 with lines linestyle 3 title '400 A'
unset label
unset object 1

# ---- charging
set lmargin at screen 0.565
set rmargin at screen 0.975
set xrange [30:100]
set xtics 10
amp_step = nice_step(most(FRESH_records > 0 ? FRESH_max : 0, RESTED_max), 5)
amp_top = most(RESTED_max, FRESH_records > 0 ? FRESH_max : 0)
set yrange [0:amp_step * ceil(1.04 * amp_top / amp_step)]
set ytics amp_step
set xlabel 'state of charge, %' offset 0, 0.3
heading = 'Current that it takes at 14.4 V, A'
@panel_head
set key at graph 0.98, graph 0.97 right top vertical maxrows 4 font ',10.5'
plot charging using (100 * $1):3 with lines linestyle 3 title 'just after 300 A, 25 °C', \
    charging using (100 * $1):2 with lines linestyle 1 title 'after hours, 25 °C', \
    charging using (100 * $1):4 with lines linestyle 4 linewidth 1.8 title 'after hours, 0 °C'
unset multiplot
set output
