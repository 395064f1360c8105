# Force in the winch line by parts of line, beside what the layers of the drum can give.
#
# Tables: curve    1 load resistance N, 2..5 line N with 1..4 parts
#         layers   1 layer, 2 rated pull there N
# Variables: title (text); rated_N; force_k, force_name, force_format

page_w = 900
page_h = 560
load plot_folder.'/style.gp'

stats curve using (force_k * $1) nooutput name 'LOAD'
stats layers using 1 nooutput name 'LAYER'
answer = 'Below a dashed line the winch pulls it in that layer. Friction: 10 % of the load for each sheave.'
set lmargin at screen 0.085
set rmargin at screen 0.845
set tmargin at screen from_top(112)
set bmargin at screen from_top(page_h - 62)
set xrange [0:LOAD_max]
set xtics nice_step(LOAD_max, 8)
y_end = 1.25 * force_k * rated_N
set yrange [0:y_end]
set ytics nice_step(y_end, 6)
set xlabel 'what it takes to move the vehicle, '.force_name offset 0, 0.3
heading = 'Line at the drum, '.force_name
@page_head
@panel_head
set key at graph 1, graph key_above(380) right top horizontal maxrows 1 font ',10.5'
plot curve using (force_k * $1):(force_k * $2) with lines linestyle 3 linewidth 2.4 title 'single line', \
    curve using (force_k * $1):(force_k * $3) with lines linestyle 1 title '2 parts', \
    curve using (force_k * $1):(force_k * $4) with lines linestyle 2 title '3', \
    curve using (force_k * $1):(force_k * $5) with lines linestyle 4 title '4', \
    layers using (0):(force_k * $2):(LOAD_max):(0) with vectors nohead linestyle 9 linewidth 1, \
    layers using (LOAD_max):(force_k * $2):(sprintf('layer %d: '.force_format, $1, force_k * $2)) with labels left \
        offset 0.5, 0 font ',10' textcolor rgb ink_text
set output
