# Loads of the heaviest situation, stacked, under what the alternator gives over engine speed.
#
# Tables: curve   1 engine rpm, 2 amps cold, 3 amps hot
#         bands   1 name, 2 from A, 3 to A: the loads on top of each other
#         marks   1 name, 2 engine rpm, 3 amps of each situation
# Variables: title, answer, heaviest (texts); idle, fast_idle (rpm)

page_w = 900
page_h = 620
load plot_folder.'/style.gp'

stats curve using 1 nooutput name 'SPEED'
stats curve using 2 nooutput name 'COLD'
stats bands using 3 nooutput name 'LOAD'
stats marks using 3 nooutput name 'MARK'

set lmargin at screen 0.075
set rmargin at screen 0.775
set tmargin at screen 0.845
set bmargin at screen 0.105
x_end = SPEED_max
amp_top = most(most(COLD_max, LOAD_max), MARK_max)
amp_step = nice_step(1.08 * amp_top, 6)
y_end = amp_step * ceil(1.04 * amp_top / amp_step)
set xrange [SPEED_min:x_end]
set yrange [0:y_end]
set xtics nice_step(x_end - SPEED_min, 7)
set ytics amp_step
set xlabel 'engine speed, rpm'
set style fill solid 1.0 border rgb '#ffffff'

set label fit_text(title, 0.02) at screen 0.02, screen 0.965 left noenhanced font fit_font(title, 0.02, 15) textcolor rgb ink_text
set label fit_text(answer, 0.02) at screen 0.02, screen 0.925 left noenhanced font fit_font(answer, 0.02, 11) textcolor rgb ink_soft
set label 'Current, A' at graph 0, screen 0.872 left font ',12' textcolor rgb ink_text
set label 'loads of '.heaviest at screen 0.79, first 1.0 * LOAD_max left offset 0, 0.8 noenhanced font ',10.5' \
    textcolor rgb ink_soft
set arrow from idle, 0 to idle, y_end nohead linestyle 9 front
set arrow from fast_idle, 0 to fast_idle, y_end nohead linestyle 9 front
set label 'idle' at idle, y_end left offset 0.4, -0.7 font ',10' textcolor rgb ink_text front
set label 'fast idle' at fast_idle, y_end left offset 0.4, -0.7 font ',10' textcolor rgb ink_text front
set key at screen 0.775, screen 0.872 right center horizontal maxrows 1 font ',10.5'

# bands light to lighter, so that the curves stay the darkest
shade(row) = int(row) % 2 == 0 ? 0xd9e2ea : 0xe9eff3
room = y_end / 24.0

# A name stands where no curve can cross it, and the curves rise to the right: below a mark that
# lies under them to its right; beside one above them to its left, or, where the axis is too near,
# to its right above all that the cold curve reaches along the name.
letter = 7.2 * (x_end - SPEED_min) / 630
do for [i = 0:MARK_records - 1] {
    stats marks every ::i::i using (name = stringcolumn(1), at_rpm = $2, at_A = $3, $3) nooutput
    stats curve using ($1 <= at_rpm ? $3 : NaN) nooutput name 'HERE'
    room_left = at_rpm - SPEED_min - 2 * letter
    room_right = x_end - at_rpm - 2 * letter
    long = letter * strlen(name)
    under = at_A < HERE_max
    stats curve using ($1 <= at_rpm + long + 2 * letter ? $2 : NaN) nooutput name 'ALONG'
    if ((under && long > room_right) || (!under && long <= room_left)) {
        set label name at at_rpm, at_A right offset -0.9, (under ? -0.6 : 0.5) noenhanced \
            font ',10' textcolor rgb ink_text front
    } else {
        name_A = under ? at_A : most(at_A, ALONG_max)
        set label name at at_rpm, name_A left offset 0.9, (under ? -0.6 : 0.7) noenhanced \
            font ',10' textcolor rgb ink_text front
    }
}
plot bands using (0.5 * (SPEED_min + x_end)):(0.5 * ($2 + $3)):(SPEED_min):(x_end):2:3:(shade($0)) \
        with boxxyerror fillcolor rgb variable, \
    bands using (x_end):(0.5 * ($2 + $3)):($3 - $2 < 0.6 * room ? '' : \
        sprintf('%s %.0f A', stringcolumn(1), $3 - $2)) with labels left offset 0.8, 0 noenhanced \
        font ',10.5' textcolor rgb ink_text, \
    curve using 1:2 with lines linestyle 1 title 'alternator cold', \
    curve using 1:3 with lines linestyle 3 linewidth 2.4 title 'alternator hot', \
    marks using 2:3 with points pointtype 7 pointsize 1.3 linecolor rgb ink_text \
        title 'situation'

set output
