# Measured discharges of a 17 Ah battery and the rests after them, beside simulated ones.
#
# Tables, of the runs K = 0, 1, 2 (3.04, 1.03, 0.53 A): runK, restK measured; label_runK ... and
# times_, volts_ simulated. Columns: 1 hours since the load came on (rest: minutes since it ended),
# 2 V. Written and drawn by tests/measured/check_measured.py --picture.

page_w = 900
page_h = 740
load plot_folder.'/style.gp'

title = 'A measured 17 Ah battery: three discharges, and the rests after them'
answer = 'Sulzer et al. 2019 (points); label: simulated from 17 Ah, AGM, thick plates, and nothing else'
left(k) = 0.06 + 0.317 * k
amps(k) = word('3.04 1.03 0.53', k + 1)
last_h(k) = word('7 20 40', k + 1) + 0
step_h(k) = word('1 4 8', k + 1) + 0
last_min(k) = 100

set multiplot
do for [k = 0:2] {
    set lmargin at screen left(k)
    set rmargin at screen left(k) + 0.268

    # ---- discharge
    set tmargin at screen from_top(112)
    set bmargin at screen from_top(410)
    set xrange [0:last_h(k)]
    set xtics step_h(k)
    set yrange [10.25:13.25]
    set ytics 0.5
    set xlabel 'hours' offset 0, 0.5
    heading = sprintf('%s A: volts under load', amps(k))
    if (k == 0) {
        @page_head
    }
    @panel_head
    if (k == 2) {
        set key at graph 1.0, graph 0.99 right top vertical maxrows 4 font ',10.5'
    } else {
        unset key
    }
    plot value('run'.k) using 1:2 with points pointtype 6 pointsize 0.55 linewidth 1.2 linecolor rgb ink_text title 'measured', \
        value('label_run'.k) using 1:2 with lines linestyle 1 title 'label', \
        value('times_run'.k) using 1:2 with lines linestyle 2 dashtype (6, 4) title 'fitted to the times', \
        value('volts_run'.k) using 1:2 with lines linestyle 4 title 'fitted to the volts'
    unset label
    unset key

    # ---- rest
    set tmargin at screen from_top(492)
    set bmargin at screen from_top(page_h - 52)
    set xrange [0:last_min(k)]
    set xtics 20
    set yrange [10.4:11.6]
    set ytics 0.2
    set xlabel 'minutes since the load was taken off' offset 0, 0.5
    heading = sprintf('after %s A: volts at rest', amps(k))
    @panel_head
    plot value('rest'.k) using 1:2 with points pointtype 6 pointsize 0.7 linewidth 1.2 linecolor rgb ink_text, \
        value('label_rest'.k) using 1:2 with lines linestyle 1, \
        value('times_rest'.k) using 1:2 with lines linestyle 2 dashtype (6, 4), \
        value('volts_rest'.k) using 1:2 with lines linestyle 4
    unset label
}
unset multiplot
set output
