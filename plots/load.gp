# A load by itself: amps against voltage, and after it was switched on.
#
# Tables: curve   1 V, 2 A (0 where it has dropped out)
#         start   1 s since it was switched on, 2 A at its reference voltage
# Variables: title (text); reference_V, reference_A, exponent, dropout_V (NaN: works at any voltage)

page_w = 900
page_h = 480
load plot_folder.'/style.gp'

answer = sprintf('%.3g A at %.1f V; the current goes as the voltage to the power of %.2g', reference_A, reference_V, exponent)
stats curve using 2 nooutput name 'AMPS'
stats start using 2 nooutput name 'START'
set multiplot
set tmargin at screen from_top(122)
set bmargin at screen from_top(page_h - 62)
set lmargin at screen 0.075
set rmargin at screen 0.48
set xrange [0:16]
set xtics 2
top = AMPS_max > 0 ? AMPS_max : 1
set yrange [0:1.2 * top]
set ytics nice_step(top, 5)
set xlabel 'V' offset 0, 0.3
heading = 'Current, A'
@page_head
@panel_head
unset key
if (dropout_V == dropout_V) {
    set arrow from dropout_V, graph 0 to dropout_V, graph 1 nohead linestyle 9 front
    set label sprintf('drops out below %.1f V', dropout_V) at dropout_V, graph 1 right offset -0.6, -0.8 font ',10' textcolor rgb ink_text front
}
plot curve using 1:2 with lines linestyle 1 linewidth 2.6, \
    '+' using (reference_V):(reference_A) every ::0::0 with points pointtype 7 pointsize 1 linecolor rgb ink_text
unset label
unset arrow
set lmargin at screen 0.565
set rmargin at screen 0.975
set xrange [0:2]
set xtics 0.5
top = START_max > 0 ? START_max : 1
set yrange [0:1.15 * top]
set ytics nice_step(top, 5)
set xlabel 'seconds since it was switched on' offset 0, 0.3
heading = 'Current when it starts, A'
@panel_head
plot start using 1:2 with lines linestyle 3 linewidth 2.6
unset multiplot
set output
