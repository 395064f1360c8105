# What a voltmeter shows: one column per reading, one row per fault, each column to its own scale.
#
# Tables: bands   1 column, 2 row, 3 low end, 4 expected, 5 high end (0..1 across the column),
#                 6 expected, V, 7: 1 outside the band of the healthy rig
#         heads   1 name of the reading, 2 low and 3 high end of the healthy band, 4 measured
#                 (0..1 across the column; NaN: not measured), 5 measured, V
#         rows    1 name of the fault, 2 row
# Variables: title, answer (texts); n_rows, n_columns

page_w = 1160
page_h = 290 + 44 * n_rows
load plot_folder.'/style.gp'

set lmargin at screen 0.205
set rmargin at screen 0.915
set tmargin at screen from_top(236)
set bmargin at screen 22.0 / page_h
unset border
unset xtics
unset ytics
unset grid
set xrange [0:n_columns]
set yrange [n_rows - 0.5:-0.5]
if (answer eq '') answer = 'Volts, each column to its own scale. Bar: where 19 of 20 such rigs lie. Red: outside what the healthy rig shows (shaded).'
@page_head
# a name of a reading leans over its column
room = 0.9
x_of(column, part) = column + 0.5 * (1 - room) + room * part
half = 0.13
set style fill solid 1.0 noborder
set key off
plot heads using (x_of($0, 0.5 * ($2 + $3))):(0.5 * n_rows - 0.5):(x_of($0, $2)):(x_of($0, $3)): \
        (-0.5):(n_rows - 0.5) with boxxyerror fillcolor rgb ink_pull, \
    rows using (0):($2 + 0.5):(n_columns):(0) with vectors nohead linestyle 10, \
    heads using ($0 + 1):(-0.5):(0):(n_rows) with vectors nohead linestyle 10, \
    bands using ($7 == 0 ? x_of($1, 0.5 * ($3 + $5)) : NaN):($2 + 0.17):(x_of($1, $3)): \
        (x_of($1, $5)):($2 + 0.17 - half):($2 + 0.17 + half) \
        with boxxyerror fillcolor rgb ink_deep, \
    bands using ($7 == 1 ? x_of($1, 0.5 * ($3 + $5)) : NaN):($2 + 0.17):(x_of($1, $3)): \
        (x_of($1, $5)):($2 + 0.17 - half):($2 + 0.17 + half) \
        with boxxyerror fillcolor rgb ink_red, \
    bands using ($7 == 0 ? x_of($1, least(0.85, most(0.15, $4))) : NaN):($2 - 0.2): \
        (sprintf('%.1f', $6)) with labels center font ',10' textcolor rgb ink_text, \
    bands using ($7 == 1 ? x_of($1, least(0.85, most(0.15, $4))) : NaN):($2 - 0.2): \
        (sprintf('%.1f', $6)) with labels center font ',10' textcolor rgb ink_red, \
    heads using (x_of($0, $4)):(-0.5):(0):(n_rows) with vectors nohead linestyle 9, \
    heads using ($4 == $4 ? x_of($0, $4) : NaN):(n_rows - 0.5): \
        (sprintf('%.2f', $5)) with labels center offset 0, -0.6 font ',10' textcolor rgb ink_text, \
    heads using ($0 + 0.3):(-0.5):1 with labels left offset 0, 0.7 rotate by 35 noenhanced font ',10.5' \
        textcolor rgb ink_text, \
    rows using (0):2:1 with labels right offset -1, 0 noenhanced font ',10.5' \
        textcolor rgb ink_text
set output
