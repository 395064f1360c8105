# A winch by itself, first layer: amps and rope speed against pull at several voltages; pull by layer.
#
# Tables: curve    1 pull N, 2 A, 3..6 rope m/s at volt_1..volt_4 at the motor (NaN: stalled)
#         layers   1 layer, 2 rated pull there N, 3 rope on the drum when it is full m
# Variables: title (text); volt_1..volt_4; rated_N, rated_A, rated_mps; no_load_A, no_load_mps; sheet_V
#            force_k, force_name, force_format, speed_k, speed_name, length_k, length_name

page_w = 900
page_h = 760
load plot_folder.'/style.gp'

answer = sprintf('Rated '.force_format.' %s: %.0f A, %.1f %s. The current hangs on the pull, the voltage only on the speed.', \
    force_k * rated_N, force_name, rated_A, speed_k * rated_mps, speed_name)
stats layers using 1 nooutput name 'LAYER'
stats layers using 3 nooutput name 'ROPE'
stats curve using 1 nooutput name 'PULL'
stats curve using 2 nooutput name 'AMPS'
stats curve using 3 nooutput name 'SPEED'

set multiplot
set tmargin at screen from_top(112)
set bmargin at screen from_top(425)
x_end = 1.3 * force_k * rated_N
set xrange [0:x_end]
set xtics nice_step(x_end, 6)
set xlabel 'pull in the line, '.force_name offset 0, 0.4
set lmargin at screen 0.075
set rmargin at screen 0.48
amp_top = 1.3 * rated_A
set yrange [0:amp_top]
set ytics nice_step(amp_top, 6)
heading = 'Current, A'
@page_head
@panel_head
set arrow 1 from force_k * rated_N, graph 0 to force_k * rated_N, graph 1 nohead linestyle 9 front
set label 'rated' at force_k * rated_N, graph 0 right offset -0.6, 0.8 font ',10' textcolor rgb ink_text front
set label sprintf('%.0f A', rated_A) at force_k * rated_N, rated_A right offset -1, 0.5 font ',11' textcolor rgb ink_text front
set label sprintf('%.0f A without load', no_load_A) at 0.07 * x_end, 0.75 * no_load_A left font ',11' textcolor rgb ink_text front
plot curve using (force_k * $1):2 with lines linestyle 3 linewidth 2.6, \
    '+' using (force_k * rated_N):(rated_A) every ::0::0 with points pointtype 7 pointsize 1 linecolor rgb ink_text
unset label

set lmargin at screen 0.565
set rmargin at screen 0.975
speed_top = 1.08 * speed_k * SPEED_max
set yrange [0:speed_top]
set ytics nice_step(speed_top, 6)
heading = 'Speed of the rope, '.speed_name
@panel_head
set label 'rated' at force_k * rated_N, graph 0 right offset -0.6, 0.8 font ',10' textcolor rgb ink_text front
set key vertical right top font ',10.5' title 'at the motor' font ',10.5'
set key at graph 0.72, graph 0.98
plot curve using (force_k * $1):(speed_k * $3) with lines linestyle 4 title sprintf('%.1f V', volt_1), \
    curve using (force_k * $1):(speed_k * $4) with lines linestyle 1 title sprintf('%.1f V', volt_2), \
    curve using (force_k * $1):(speed_k * $5) with lines linestyle 2 title sprintf('%.1f V', volt_3), \
    curve using (force_k * $1):(speed_k * $6) with lines linestyle 3 title sprintf('%.1f V', volt_4)
unset label
unset arrow 1
unset key

set tmargin at screen from_top(520)
set bmargin at screen from_top(page_h - 60)
set lmargin at screen 0.075
set rmargin at screen 0.48
set xrange [0:1.18 * force_k * rated_N]
set xtics nice_step(force_k * rated_N, 5)
set yrange [LAYER_max + 0.6:0.4]
set ytics 1
set xlabel 'rated pull, '.force_name offset 0, 0.3
heading = 'Layer on the drum: the fuller, the weaker'
@panel_head
set style fill solid 1.0 noborder
plot layers using (0):1:(0):(force_k * $2):($1 - 0.32):($1 + 0.32) with boxxyerror fillcolor rgb '#93a6cf', \
    layers using (force_k * $2):1:(sprintf(force_format, force_k * $2)) with labels left offset 0.6, 0 font ',10.5' textcolor rgb ink_text
unset label

set lmargin at screen 0.565
set rmargin at screen 0.975
set xrange [0:1.18 * length_k * ROPE_max]
set xtics nice_step(length_k * ROPE_max, 5)
set xlabel 'rope on the drum, '.length_name offset 0, 0.3
heading = 'Rope on the drum when that layer is full'
@panel_head
plot layers using (0):1:(0):(length_k * $3):($1 - 0.32):($1 + 0.32) with boxxyerror fillcolor rgb '#a6dad5', \
    layers using (length_k * $3):1:(sprintf('%.1f', length_k * $3)) with labels left offset 0.6, 0 font ',10.5' textcolor rgb ink_text
unset multiplot
set output
