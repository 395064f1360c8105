# A recovery over time: charge, voltage, currents, motor heat, way; pulls shaded, limits drawn.
#
# Tables: rows    1 minutes, 2 charge %, 3 plates' surface %, 4 fuse box V, 5 winch A,
#                 6 alternator A, 7 battery A (positive: charging), 8 winding, 9 motor case, 10 way
#         pulls   start and end of each pull, minutes
# Variables: title, answer (texts); reserve (%), box_min (V), motor_max, NaN where a limit is off;
#            degree, length (names of the units of winding, case, way); has_motor, has_way (1 or 0:
#            columns 8 and 9, or 10, hold nothing and their panel is left out)

has_motor = int(has_motor)
has_way = int(has_way)

# heights of the panels in px, from the top of the page: charge, voltage, currents, motor, way
array HEIGHT[5] = [178, 147, 170, has_motor * 150, has_way * 138]
head = 110.0
gap = 50.0
foot = 62.0
panels = 3 + has_motor + has_way
page_w = 900
page_h = head + HEIGHT[1] + HEIGHT[2] + HEIGHT[3] + HEIGHT[4] + HEIGHT[5] + (panels - 1) * gap + foot
load plot_folder.'/style.gp'

stats rows using 1 nooutput name 'TIME'
stats rows using 2 nooutput name 'CHARGE'
stats rows using 3 nooutput name 'SURFACE'
stats rows using 4 nooutput name 'BOX'
stats rows using 5 nooutput name 'WINCH'
stats rows using 6 nooutput name 'ALTERNATOR'
stats rows using 7 nooutput name 'BATTERY'
if (has_motor) { stats rows using 8 nooutput name 'WINDING' }
if (has_way) { stats rows using 10 nooutput name 'WAY' }

panel = 0
below = page_h - head
y_low = 0.0
y_high = 1.0

set multiplot
set lmargin at screen 0.075
set rmargin at screen 0.905
x_end = TIME_max > 0 ? TIME_max : 1
set xrange [0:x_end]
set xtics nice_step(x_end, 9)
set key at graph 1.0, graph 1.155 right top horizontal font ',10.5'
set style fill solid 1.0 noborder

minutes = 'minutes from the start; bands are pulls'
last_panel = has_way ? 5 : has_motor ? 4 : 3

# what every panel begins with, and the bands of the pulls
open_panel = "panel = panel + 1; set tmargin at screen below / page_h; \
    below = below - HEIGHT[panel]; set bmargin at screen below / page_h; \
    below = below - (HEIGHT[panel] > 0 ? gap : 0); unset label; unset xlabel; set xtics format ''; \
    if (panel == last_panel) { set xtics format '%g'; set xlabel minutes offset 0, 0.3 font ',11' };  set yrange [y_low:y_high]; set ytics nice_step(y_high - y_low, 5); \
    set label heading at graph 0, graph 1.10 left font ',12' textcolor rgb ink_text"
bands = "pulls using (0.5 * ($1 + $2)):(y_low):1:2:(y_low):(y_high) with boxxyerror \
    fillcolor rgb ink_pull"
# a limit is named in the margin, at the height of its line
limit_text = "left offset 0.4, 0.4 font ',10' textcolor rgb ink_text"

# ---- charge
heading = sprintf('Charge, %% (lowest %.0f %%)', CHARGE_min)
y_low = 10 * floor(least(least(CHARGE_min, SURFACE_min), reserve) / 10 - 0.4)
y_low = y_low < 0 ? 0 : y_low
y_high = 100
@open_panel
set label fit_text(title, 0.075) at screen 0.075, screen 1 - 28.0 / page_h left noenhanced font fit_font(title, 0.075, 15) textcolor rgb ink_text
set label fit_text(answer, 0.075) at screen 0.075, screen 1 - 57.0 / page_h left noenhanced font fit_font(answer, 0.075, 11) textcolor rgb ink_soft
if (reserve == reserve) {
    set label sprintf("keep\n%.0f %%", reserve) at graph 1, first reserve @limit_text
}
plot @bands, \
    rows using 1:3 with lines linestyle 4 linewidth 1.2 title 'at the surface of the plates', \
    rows using 1:2 with lines linestyle 1 title 'real charge', \
    reserve with lines linestyle 9

# ---- voltage
heading = sprintf('Fuse box, V (lowest %.1f V)', BOX_min)
y_low = 0.5 * floor(2 * least(BOX_min, box_min) - 0.5)
y_high = 0.5 * ceil(2 * BOX_max + 0.5)
@open_panel
if (box_min == box_min) {
    set label sprintf("at least\n%.1f V", box_min) at graph 1, first box_min @limit_text
}
plot @bands, \
    rows using 1:4 with lines linestyle 1 linewidth 1.6, \
    box_min with lines linestyle 9

# ---- currents
heading = 'Current, A'
amp_step = nice_step(WINCH_max - BATTERY_min, 6)
y_low = amp_step * floor(BATTERY_min / amp_step)
y_high = amp_step * ceil(most(WINCH_max, ALTERNATOR_max) / amp_step)
@open_panel
plot @bands, \
    rows using 1:5 with lines linestyle 3 title sprintf('winch (to %.0f A)', WINCH_max), \
    rows using 1:7 with lines linestyle 1 linewidth 1.6 title 'into the battery', \
    rows using 1:6 with lines linestyle 2 title sprintf('alternator (to %.0f A)', ALTERNATOR_max), \
    0 with lines linecolor rgb ink_soft linewidth 1

# ---- winch motor
if (has_motor) {
    heading = 'Winch motor, '.degree
    heat_top = most(WINDING_max, motor_max)
    heat_step = nice_step(heat_top, 5)
    y_low = heat_step * floor(WINDING_min / heat_step)
    y_high = heat_step * ceil(1.04 * heat_top / heat_step)
    @open_panel
    if (motor_max == motor_max) {
        set label sprintf("at most\n%.0f %s", motor_max, degree) at graph 1, \
            first motor_max @limit_text
    }
    plot @bands, \
        rows using 1:8 with lines linestyle 3 linewidth 2.2 \
            title sprintf('winding (to %.0f %s)', WINDING_max, degree), \
        rows using 1:9 with lines linestyle 2 title 'case', \
        motor_max with lines linestyle 9
}

# ---- way
if (has_way) {
    panel = 4
    heading = 'Way, '.length
    y_low = 0
    way_step = nice_step(WAY_max > 0 ? WAY_max : 1, 4)
    y_high = way_step * ceil((WAY_max > 0 ? 1.02 * WAY_max : 1) / way_step)
    @open_panel
    plot @bands, \
        rows using 1:10 with lines linestyle 4 linewidth 2.4
}

unset multiplot
set output
