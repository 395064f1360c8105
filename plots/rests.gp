# Rest that a pull needs, and the total time, by length of the pull and engine speed in the rest.
#
# Table: rows   1 pull s; 2..4 even rest s; 5..7 total s, at three engine speeds (NaN: no rest works)
# Variables: title (text); rpm_1..rpm_3; rest_min (s); chosen_pull (NaN: none), chosen_rest, chosen_total

page_w = 900
page_h = 540
load plot_folder.'/style.gp'

answer = 'Every point is a whole recovery planned with equal rests at one engine speed; a gap: no rest keeps the limits.'
series = rpm_2 == rpm_3 ? 2 : 3
top_rest = 0.0
top_time = 0.0
points = 0
do for [k = 1:series] {
    stats rows using (column(1 + k)) nooutput name 'REST'
    if (REST_records > 0) { top_rest = most(top_rest, REST_max); points = points + REST_records }
    stats rows using (column(4 + k)) nooutput name 'TIME'
    if (TIME_records > 0) { top_time = most(top_time, TIME_max) }
}
gap = 0.0
do for [k = 2:series] {
    stats rows using (abs(column(1 + k) - $2)) nooutput name 'GAP'
    if (GAP_records > 0) { gap = most(gap, GAP_max) }
}
if (points > 0 && gap < 2) {
    answer = 'Equal rests. The engine speed in the rest makes no difference here: the battery does not set the rests.'
}
top_rest = top_rest > 0 ? top_rest / 60 : 1
top_time = top_time > 0 ? top_time / 60 : 1

set multiplot
set tmargin at screen from_top(130)
set bmargin at screen from_top(page_h - 62)

# the key stands above both panels, from a plot of nothing across the page: inside a panel it would
# blank the grid
name(rpm, word) = sprintf('%.0f rpm%s', rpm, word)
set lmargin at screen 0.03
set rmargin at screen 0.975
set xrange [1:2]
set yrange [1:2]
set xtics 1000
set ytics 1000
@page_head
unset border
set format ''
set tics scale 0
unset grid
set key at screen 0.975, screen from_top(86) right center horizontal maxrows 1 font ',10.5' samplen 1.8
plot NaN with linespoints linestyle 3 pointtype 7 pointsize dot title name(rpm_1, ', idle'), \
    NaN with linespoints linestyle 1 pointtype 5 pointsize dot title name(rpm_2, ', fast idle'), \
    NaN with linespoints linestyle 2 dashtype (24, 10) pointtype 9 pointsize dot \
        title (series == 3 ? name(rpm_3, ', highest') : ''), \
    NaN with points pointtype 6 pointsize ring linewidth 1.6 linecolor rgb ink_text title 'the plan'
unset label
unset key
set border 3
set xrange [0:63]
set tics scale 0.5
set xtics 10 format '%g'
set xlabel 'length of each pull, s' offset 0, 0.3
set grid

set lmargin at screen 0.07
set rmargin at screen 0.48
rest_step = nice_step(1.1 * top_rest, 6)
set yrange [0:rest_step * ceil(1.06 * top_rest / rest_step)]
set ytics rest_step format '%g'
heading = 'Rest after each pull, minutes'
@panel_head
if (points == 0) { set label 'no rest works at any length' at graph 0.5, graph 0.5 center font ',12' textcolor rgb ink_red }
plot rows using 1:($2 / 60) with linespoints linestyle 3 pointtype 7 pointsize dot, \
    rows using 1:($3 / 60) with linespoints linestyle 1 pointtype 5 pointsize dot, \
    rows using 1:(series == 3 ? $4 / 60 : NaN) with linespoints linestyle 2 dashtype (24, 10) pointtype 9 pointsize dot, \
    '+' using (chosen_pull):(chosen_rest / 60) every ::0::0 with points pointtype 6 pointsize ring \
        linewidth 1.6 linecolor rgb ink_text
unset label

set lmargin at screen 0.565
set rmargin at screen 0.975
time_step = nice_step(1.1 * top_time, 6)
set yrange [0:time_step * ceil(1.06 * top_time / time_step)]
set ytics time_step
heading = 'Time for the whole recovery, minutes'
@panel_head
plot rows using 1:($5 / 60) with linespoints linestyle 3 pointtype 7 pointsize dot, \
    rows using 1:($6 / 60) with linespoints linestyle 1 pointtype 5 pointsize dot, \
    rows using 1:(series == 3 ? $7 / 60 : NaN) with linespoints linestyle 2 dashtype (24, 10) pointtype 9 pointsize dot, \
    '+' using (chosen_pull):(chosen_total / 60) every ::0::0 with points pointtype 6 pointsize ring \
        linewidth 1.6 linecolor rgb ink_text

unset multiplot
set output
