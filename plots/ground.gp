# Force that moves a vehicle, by slope, ground and depth.
#
# Table: curve   1 slope (rise over run), N: 2..4 on the surface, low, likely, high; 5 sunk to the wheels'
#                rims, 6 to the hubs, 7 to the body, likely
# Variables: title (text); weight (N); margin (share); rated_N (NaN: no winch); force_k, force_name, force_format

page_w = 900
page_h = 560
load plot_folder.'/style.gp'

answer = sprintf('Vehicle of '.force_format.' %s weight; %.0f %% for uncertainty is in every curve.', force_k * weight, force_name, 100 * margin)
set lmargin at screen 0.085
set rmargin at screen 0.80
set tmargin at screen from_top(112)
set bmargin at screen from_top(page_h - 62)
stats curve using (force_k * $7) nooutput name 'BODY'
set xrange [0:60]
set xtics 10
y_step = nice_step(BODY_max, 6)
y_end = y_step * ceil(1.02 * BODY_max / y_step)
set yrange [0:y_end]
set ytics y_step
set xlabel 'slope, % (45° is 100 %)' offset 0, 0.3
heading = 'Force to move it, '.force_name
@page_head
@panel_head
unset key
if (rated_N == rated_N && force_k * rated_N < 0.97 * y_end) {
    set arrow from graph 0, first force_k * rated_N to graph 1, first force_k * rated_N nohead linestyle 9 front
    set label 'winch, single line, first layer' at graph 0.36, first force_k * rated_N left offset 0, 0.6 font ',10' textcolor rgb ink_text front
    if (2 * rated_N * force_k / 1.1 < 0.97 * y_end) {
        set arrow from graph 0, first 2 * force_k * rated_N / 1.1 to graph 1, first 2 * force_k * rated_N / 1.1 nohead linestyle 9 linewidth 0.8 front
        set label 'with a block' at graph 0, first 2 * force_k * rated_N / 1.1 left offset 0.5, 0.6 font ',10' textcolor rgb ink_text front
    }
}
last = "every ::60::60 with labels left offset 0.6, 0 font ',10.5' textcolor rgb ink_text"
plot curve using (100 * $1):(force_k * $2):(force_k * $4) with filledcurves fillcolor rgb '#d6efec', \
    curve using (100 * $1):(force_k * $3) with lines linestyle 4 linewidth 2.6, \
    curve using (100 * $1):(force_k * $5) with lines linestyle 2, \
    curve using (100 * $1):(force_k * $6) with lines linestyle 1, \
    curve using (100 * $1):(force_k * $7) with lines linestyle 3 linewidth 2.4, \
    curve using (100 * $1):(force_k * $3):('wheels on top') @last, \
    curve using (100 * $1):(force_k * $5):('mired to the wheels') @last, \
    curve using (100 * $1):(force_k * $6):('to the hubs') @last, \
    curve using (100 * $1):(force_k * $7):('to the body') @last
set output
