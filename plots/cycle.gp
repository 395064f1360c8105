# One pull and the rest after it: who gives the amps, what the meter says, what the battery has.
#
# Table: rows   1 seconds from the start of the pull, 2 winch A, 3 alternator A, 4 battery A
#               (positive: charging), 5 loads A, 6 fuse box V, 7 share of the meter, 8 share of the
#               pull's charge that is back (7 and 8: NaN but in the rest)
# Variables: title (text); number, count (which pull, of how many); pull_s, rest_s; winch_A (its most),
#            battery_A, alternator_A (at that moment); lowest_V; back_s, back_V, back_frac (when the meter
#            looks full, NaN: it does not); end_frac; soc_before, soc_after, soc_end; box_min (V or NaN)

page_w = 900
page_h = 800
load plot_folder.'/style.gp'

stats rows using 1 nooutput name 'TIME'
stats rows using 6 nooutput name 'BOX'
stats rows using 3 nooutput name 'ALTERNATOR'
answer = sprintf('Pull %d of %d: %s of winch, then %s of rest; the battery goes from %.1f to %.1f and back to %.1f %%.', \
    number, count, clock(pull_s), clock(rest_s), 100 * soc_before, 100 * soc_after, 100 * soc_end)

set multiplot
set lmargin at screen 0.075
set rmargin at screen 0.965
set xrange [TIME_min:TIME_max]
set xtics nice_step(TIME_max - TIME_min, 10)
set style fill solid 1.0 noborder
set key at graph 1, graph key_above(260) right top horizontal font ',10.5'
span = TIME_max - TIME_min
pull_band = "set object 1 rectangle from 0, graph 0 to pull_s, graph 1 behind \
    fillcolor rgb ink_pull fillstyle solid 1.0 noborder"
@pull_band

# ---- where the amps come from
amp_top = most(winch_A, battery_A + alternator_A)
amp_step = nice_step(1.1 * amp_top, 5)
set tmargin at screen from_top(112)
set bmargin at screen from_top(372)
amp_end = amp_step * ceil(1.06 * amp_top / amp_step)
set yrange [0:amp_end]
set ytics amp_step
set xtics format ''
heading = 'Current, A'
@page_head
@panel_head
right = pull_s + 0.02 * span
set label sprintf('then the battery gives %.0f A', battery_A) at right, alternator_A + 0.6 * battery_A \
    left font ',11' textcolor rgb ink_deep front
set label sprintf('and the alternator %.0f A', alternator_A) at right, alternator_A left font ',11' textcolor rgb '#8a5800' front
set label sprintf('at its most the winch takes %.0f A', winch_A) at right, 0.95 * amp_end left font ',11' \
    textcolor rgb ink_red front
given(a, b) = b < 0 ? a - b : a
taken(a, b) = b > 0 ? a - b : a
plot rows using 1:3:(given($3, $4)) with filledcurves fillcolor rgb '#93a6cf' \
        title 'battery', \
    rows using 1:(0):3 with filledcurves fillcolor rgb '#f0cf94' title 'alternator', \
    rows using 1:(taken($3, $4)):3 with filledcurves fillcolor rgb '#a6dad5' \
        title 'into the battery', \
    rows using 1:2 with lines linestyle 3 title 'winch', \
    rows using 1:5 with lines linecolor rgb ink_soft linewidth 1.4 dashtype (3, 3) title 'loads'
unset label

# ---- voltage
set tmargin at screen from_top(416)
set bmargin at screen from_top(536)
y_low = 0.5 * floor(2 * least(BOX_min, box_min) - 0.3)
y_high = 0.5 * ceil(2 * BOX_max + 0.3)
set yrange [y_low:y_high]
set ytics nice_step(y_high - y_low, 4)
heading = sprintf('Fuse box, V: %.1f V at the lowest', lowest_V)
@panel_head
if (box_min == box_min) {
    set label sprintf('at least %.1f V', box_min) at graph 1, first box_min right offset -0.5, 0.6 \
        font ',10' textcolor rgb ink_text
}
plot rows using 1:6 with lines linestyle 1, \
    box_min with lines linestyle 9
unset label

# ---- what the needle says, what is so
set key at graph 1, graph key_above(160) right top horizontal font ',10.5'
set tmargin at screen from_top(580)
set bmargin at screen from_top(740)
set yrange [0:109]
set ytics 25
set xtics format '%g'
set xlabel 'seconds from the start of the pull (shaded)' offset 0, 0.3
heading = 'In the rest, %'
@panel_head
side = back_s > 0.5 * rest_s ? 'right' : 'left'
if (back_s == back_s) {
    set arrow from pull_s + back_s, 0 to pull_s + back_s, 109 nohead linestyle 9 front
    set label sprintf("%s the meter looks full: %.1f V\nback is %.0f %% of the charge", \
        back_s < 1 ? 'at once' : 'after '.clock(back_s), back_V, 100 * back_frac) \
        at pull_s + back_s + (back_s > 0.5 * rest_s ? -0.012 : 0.012) * span, 66 @side font ',11' textcolor rgb ink_text front
}
set label sprintf('at the end %.0f %%', 100 * end_frac) at graph 1, first 100 * end_frac right \
    offset -0.5, (end_frac > 0.6 ? -1.5 : 0.9) font ',11' textcolor rgb ink_deep front
plot rows using 1:(100 * $8) with filledcurves y1=0 fillcolor rgb '#d5dcec' notitle, \
    rows using 1:(100 * $8) with lines linestyle 1 linewidth 3 title 'charge of this pull that is back', \
    rows using 1:(100 * $7) with lines linestyle 3 title 'what the meter seems to say'

unset multiplot
set output
