# An alternator by itself: amps cold and hot with the loads, set voltage, winding, shaft power.
#
# Tables: curve     1 engine rpm, 2 A cold, 3 A hot, 4 winding degC when hot, 5 shaft W when hot
#         setting   1 regulator degC, 2 V
# Variables: title (text); loads (A, 0: none); idle, fast_idle (rpm); idle_A, fast_A (hot); rated_A; ratio

page_w = 900
page_h = 760
load plot_folder.'/style.gp'

answer = sprintf('Rated %.0f A; hot it gives %.0f A at idle (%.0f rpm) and %.0f A at fast idle (%.0f rpm); pulley ratio %.1f', \
    rated_A, idle_A, idle, fast_A, fast_idle, ratio)
stats curve using 1 nooutput name 'SPEED'
stats curve using 2 nooutput name 'COLD'
stats curve using 5 nooutput name 'SHAFT'

set multiplot
set lmargin at screen 0.075
set rmargin at screen 0.965
set tmargin at screen from_top(112)
set bmargin at screen from_top(425)
set xrange [0:SPEED_max]
set xtics nice_step(SPEED_max, 8)
amp_step = nice_step(1.05 * most(COLD_max, loads), 6)
set yrange [0:amp_step * ceil(1.06 * most(COLD_max, loads) / amp_step)]
set ytics amp_step
set xlabel 'engine speed, rpm' offset 0, 0.4
set key at graph 1, graph key_above(313) right top horizontal font ',10.5'
heading = 'Most that it gives, A'
@page_head
@panel_head
set arrow 1 from idle, graph 0 to idle, graph 1 nohead linestyle 9 linewidth 1 front
set arrow 2 from fast_idle, graph 0 to fast_idle, graph 1 nohead linestyle 9 linewidth 1 front
set label 'idle' at idle, graph 0 left offset 0.5, 0.8 font ',10.5' textcolor rgb ink_text front
set label 'fast idle' at fast_idle, graph 0 left offset 0.5, 0.8 font ',10.5' textcolor rgb ink_text front
set label sprintf('%.0f A', idle_A) at idle, idle_A left offset 1, -0.4 font ',11' textcolor rgb ink_red front
set label sprintf('%.0f A', fast_A) at fast_idle, fast_A left offset 1, -0.6 font ',11' textcolor rgb ink_red front
if (loads > 0) {
    set label sprintf('loads that run in a rest: %.0f A', loads) at graph 1, first loads right offset -0.5, 0.7 \
        font ',10.5' textcolor rgb ink_text front
}
plot '+' using (SPEED_max * $0 / 99):(loads > 0 ? loads : NaN) every ::0::99 with filledcurves y1=0 \
        fillcolor rgb '#e9eff3' fillstyle solid 1.0 noborder, \
    curve using 1:2 with lines linestyle 1 title 'cold (winding 25 °C)', \
    curve using 1:3 with lines linestyle 3 linewidth 2.4 title 'hot (air 40 °C, after an hour)', \
    '+' using (idle):(idle_A) every ::0::0 with points pointtype 7 pointsize 0.9 linecolor rgb ink_red, \
    '+' using (fast_idle):(fast_A) every ::0::0 with points pointtype 7 pointsize 0.9 linecolor rgb ink_red
unset label
unset arrow 1
unset arrow 2

set tmargin at screen from_top(520)
set bmargin at screen from_top(page_h - 60)
set lmargin at screen 0.075
set rmargin at screen 0.48
set xrange [-30:90]
set xtics 30
set yrange [*:*]
stats setting using 2 nooutput name 'SET'
set yrange [0.2 * floor(5 * SET_min - 0.2):0.2 * ceil(5 * SET_max + 0.2)]
set ytics nice_step(SET_max - SET_min + 0.3, 5) format '%.1f'
set xlabel 'regulator, °C' offset 0, 0.3
heading = 'Voltage that it holds, V'
@panel_head
plot setting using 1:2 with lines linestyle 1
unset label

set lmargin at screen 0.565
set rmargin at screen 0.975
set xrange [0:SPEED_max]
set xtics nice_step(SPEED_max, 5)
kw_step = nice_step(SHAFT_max / 1000, 5)
set yrange [0:kw_step * ceil(1.05 * SHAFT_max / 1000 / kw_step)]
set ytics kw_step format '%g'
set xlabel 'engine speed, rpm' offset 0, 0.3
heading = 'Power it takes from the belt at full output, kW'
@panel_head
plot curve using 1:($5 / 1000) with lines linestyle 2
unset multiplot
set output
