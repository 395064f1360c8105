# What a starter takes, and how much charge it needs to be kept for it, against temperature.
#
# Table: curve   1 degC (battery and engine), 2 cranking A, 3 least charge (share; NaN: even full fails),
#                4 V while cranking from full
# Variables: title (text); least_V, floor_frac, cca_A, c20_Ah; degree_k, degree_0, degree_name

page_w = 900
page_h = 540
load plot_folder.'/style.gp'

shown(T) = degree_k * T + degree_0
answer = sprintf('Battery of %.0f Ah, %.0f A cold cranking; engine and battery as cold as the air; the starter needs %.1f V.', c20_Ah, cca_A, least_V)
stats curve using 2 nooutput name 'AMPS'
stats curve using 3 nooutput name 'KEEP'
stats curve using (KEEP_records > 0 && $3 == $3 ? $1 : NaN) nooutput name 'GOOD'
set multiplot
set tmargin at screen from_top(130)
set bmargin at screen from_top(page_h - 62)
set xrange [shown(-30):shown(40)]
set xtics 10 * (degree_k > 1 ? 2 : 1)
set xlabel 'temperature, '.degree_name offset 0, 0.3
set lmargin at screen 0.075
set rmargin at screen 0.48
amp_step = nice_step(AMPS_max, 6)
set yrange [0:amp_step * ceil(1.05 * AMPS_max / amp_step)]
set ytics amp_step
heading = 'Current of the starter, A'
@page_head
@panel_head
unset key
plot curve using (shown($1)):2 with lines linestyle 3 linewidth 2.6
unset label

set lmargin at screen 0.565
set rmargin at screen 0.975
set yrange [0:105]
set ytics 20
heading = 'Charge that must stay in the battery, %'
@panel_head
if (GOOD_records > 0 && GOOD_min > -30) {
    set object 1 rectangle from graph 0, graph 0 to shown(GOOD_min), graph 1 behind fillcolor rgb '#f0dfe1' fillstyle solid 1.0 noborder
    set label "← even a full battery fails" at shown(GOOD_min + 2), 98 left font ',10.5' textcolor rgb ink_red front
}
if (GOOD_records == 0) { set label 'even a full battery fails' at graph 0.5, graph 0.5 center font ',12' textcolor rgb ink_red front }
plot curve using (shown($1)):(100 * $3) with filledcurves y1=0 fillcolor rgb '#d5dcec' fillstyle solid 1.0 noborder, \
    curve using (shown($1)):(100 * $3) with lines linestyle 1 linewidth 2.8, \
    100 * floor_frac with lines linestyle 9
unset multiplot
set output
