# The link between two batteries by itself: amps against the volts that one side has more, and when it
# is closed as the engine starts and the winch pulls.
#
# Tables: amps     1 V at the main post more than at the second, 2 A out of the main post through this
#                  link when closed, 3..5 A through a hand switch, a diode, a charger
#         window   1 s, 2 V at the main post, 3 1 when the link is closed, or lets current through
# Variables: title (text); relay, charger, diode (1 if it is one); close_V, open_V (NaN: no
#            thresholds), close_s, open_s, rating_A (NaN: not known), wires_mohm, beside_A

page_w = 900
page_h = 480
load plot_folder.'/style.gp'

waits(s) = s < 1 ? 'at once' : sprintf('after %.0f s', s)
answer = close_V == close_V ? sprintf('%s %s at %.1f V, %s %s at %.1f V', charger > 0 ? 'Starts' : 'Closes', waits(close_s), close_V, charger > 0 ? 'stops' : 'opens', waits(open_s), open_V) : \
    diode > 0 ? 'Passes current one way, as soon as the main post is high enough; nothing opens or closes' : \
    'Opened and closed by hand, as the file says when'
if (rating_A == rating_A) {
    answer = answer.sprintf('; rated %.0f A', rating_A)
}
stats amps using 2 nooutput name 'THIS'
stats amps using 3 nooutput name 'SWITCH'
set multiplot
set tmargin at screen from_top(122)
set bmargin at screen from_top(page_h - 62)
set lmargin at screen 0.085
set rmargin at screen 0.46
set xrange [-0.5:1.7]
set xtics 0.5
top = most(THIS_max, SWITCH_max)
# above all lines there is room for the key
set yrange [1.08 * least(THIS_min, SWITCH_min):1.45 * top]
set ytics nice_step(1.8 * top, 7)
set xlabel 'V more at the main post (second: 12.5 V)' offset 0, 0.3
heading = sprintf('Current while closed, A; wires %.1f mohm', wires_mohm)
@page_head
@panel_head
set key at graph 0.03, graph 0.985 left top vertical Left reverse font ',10.5'
set arrow from -0.5, 0 to 1.7, 0 nohead linestyle 10 back
if (rating_A == rating_A && rating_A < 1.05 * top) {
    set arrow from -0.5, rating_A to 1.7, rating_A nohead linestyle 9 front
    set label sprintf('rated %.0f A', rating_A) at -0.47, rating_A left offset 0, -0.65 font ',10' textcolor rgb ink_text front
}
plot amps using 1:3 with lines linecolor rgb ink_deep linewidth 1.4 dashtype (24, 8) title 'hand switch', \
    amps using 1:4 with lines linecolor rgb ink_sea linewidth 1.4 dashtype (3, 6) title 'diode', \
    amps using 1:5 with lines linecolor rgb ink_amber linewidth 1.4 dashtype (24, 8, 4, 8) title sprintf('charger, %.0f A', beside_A), \
    amps using 1:2 with lines linestyle 3 linewidth 3 title 'this one'
unset label
unset arrow
unset key

set lmargin at screen 0.555
set rmargin at screen 0.965
set xrange [0:180]
set xtics 30
set yrange [11.5:14.7]
set ytics 0.5
set xlabel 'seconds' offset 0, 0.3
heading = diode > 0 ? 'Main post, V; tinted: passes current' : charger > 0 ? 'Main post, V; tinted: running' : 'Main post, V; tinted: closed'
@panel_head
if (close_V == close_V) {
    set arrow from 0, close_V to 180, close_V nohead linestyle 9 front
    set arrow from 0, open_V to 180, open_V nohead linestyle 9 front
    set label sprintf('%s, %.1f V', charger > 0 ? 'starts' : 'closes', close_V) at 180, close_V right offset 0, 0.6 font ',10' textcolor rgb ink_text front
    set label sprintf('%s, %.1f V', charger > 0 ? 'stops' : 'opens', open_V) at 180, open_V right offset 0, -0.7 font ',10' textcolor rgb ink_text front
}
set label 'engine starts' at 18, 14.4 left font ',10' textcolor rgb ink_soft front
set label 'pull' at 70, 11.65 center font ',10' textcolor rgb ink_soft front
set label 'short pull' at 133, 11.65 center font ',10' textcolor rgb ink_soft front
plot window using 1:(11.5 + 3.2 * $3) with filledcurves y1=11.5 fillcolor rgb ink_pull, \
    window using 1:2 with lines linestyle 1 linewidth 2.6
unset multiplot
set output
