# A cable by itself: volts lost by length, temperature by time, at multiples of what it carries for ever.
#
# Tables: drop      1 length one way m, V lost at 2 half, 3 once, 4 twice the continuous amps
#         heating   1 s, conductor degC at 2 once, 3 one and a half times, 4 twice, 5 three times
# Variables: title (text); ampacity_A, insulation (degC), area (mm2), ambient (degC); degree_k, degree_0,
#            degree_name, length_k, length_name

page_w = 900
page_h = 540
load plot_folder.'/style.gp'

shown(T) = degree_k * T + degree_0
answer = sprintf('%.4g mm² of copper, insulation for %.0f %s: %.0f A for ever in air of %.0f %s. Joints and way back are in the volts.', \
    area, shown(insulation), degree_name, ampacity_A, shown(ambient), degree_name)
stats drop using 1 nooutput name 'LENGTH'
set multiplot
set tmargin at screen from_top(130)
set bmargin at screen from_top(page_h - 62)
set lmargin at screen 0.075
set rmargin at screen 0.48
set xrange [0:length_k * LENGTH_max]
set xtics nice_step(length_k * LENGTH_max, 6)
set yrange [0:2]
set ytics 0.4
set xlabel 'length one way, '.length_name offset 0, 0.3
heading = 'Volts lost there and back, copper at 60 °C'
@page_head
@panel_head
set label '10 % of 12 V' at graph 0.86, first 1.2 right offset 0, 0.6 font ',10' textcolor rgb ink_text front
set label '3 %' at graph 0.86, first 0.36 right offset 0, 0.6 font ',10' textcolor rgb ink_text front
set key at graph 0.99, graph 0.015 right bottom vertical font ',10.5'
name(k) = sprintf('%.0f A', k * ampacity_A)
plot drop using (length_k * $1):4 with lines linestyle 3 title name(2), \
    drop using (length_k * $1):3 with lines linestyle 1 title name(1), \
    drop using (length_k * $1):2 with lines linestyle 4 title name(0.5), \
    1.2 with lines linestyle 9, 0.36 with lines linestyle 9
unset label

set lmargin at screen 0.575
set rmargin at screen 0.975
set xrange [0:10]
set xtics 2
y_end = shown(2.2 * insulation)
set key at graph 0.99, graph 0.015 right bottom vertical font ',10.5' noinvert
set yrange [shown(ambient < 0 ? ambient : 0):y_end]
set ytics nice_step(y_end, 6)
set xlabel 'minutes' offset 0, 0.3
heading = 'Conductor, '.degree_name
@panel_head
set label 'insulation' at graph 1, first shown(insulation) right offset -0.5, 0.6 font ',10' textcolor rgb ink_text front
plot heating using ($1 / 60):(shown($5)) with lines linestyle 3 title name(3), \
    heating using ($1 / 60):(shown($4)) with lines linestyle 2 title name(2), \
    heating using ($1 / 60):(shown($3)) with lines linestyle 1 title name(1.5), \
    heating using ($1 / 60):(shown($2)) with lines linestyle 4 title name(1), \
    shown(insulation) with lines linestyle 9
unset multiplot
set output
