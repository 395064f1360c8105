# Rigs compared on one recovery, each at its best: time by what it is spent on, and the lowest charge beside the charge
# that must be kept.
#
# Table: cases   1 name, 2 minutes of pulling, 3 of resting, 4 of setting out the rope again,
#                5 lowest charge %, 6 charge to keep %, 7 whether it goes
# Variables: title, answer (texts); n_cases

page_w = 900
page_h = 210 + 62 * n_cases
load plot_folder.'/style.gp'

stats cases using ($2 + $3 + $4) nooutput name 'TIME'
top = 1 - 118.0 / page_h
low = 72.0 / page_h
# a name longer than its margin is cut (a user's own words)
short(name) = strlen(name) > 26 ? name[1:25].'…' : name
# the first case on top
y(row) = n_cases - row
bar = 0.32

set multiplot
set yrange [0.4:n_cases + 0.6]
set tmargin at screen top
set bmargin at screen low
set style fill solid 1.0 noborder
unset grid
set grid xtics back linestyle 10

# ---- time
set lmargin at screen 0.235
set rmargin at screen 0.61
time_end = 1.22 * (TIME_max > 0 ? TIME_max : 1)
set xrange [0:time_end]
set xtics nice_step(time_end, 6)
set ytics scale 0 font ',11' noenhanced
set xlabel 'minutes' offset 0, 0.3
set label fit_text(title, 0.02) at screen 0.02, screen 1 - 26.0 / page_h left noenhanced font fit_font(title, 0.02, 15) textcolor rgb ink_text
set label fit_text(answer, 0.02) at screen 0.02, screen 1 - 50.0 / page_h left noenhanced font fit_font(answer, 0.02, 11) textcolor rgb ink_soft
set label 'Time' at graph 0, screen 1 - 96.0 / page_h left font ',12' textcolor rgb ink_text
unset key
legend = 1 - 96.0 / page_h
set label "■ pulling" at screen 0.295, screen legend left font ',10.5' textcolor rgb ink_red
set label "■ resting" at screen 0.38, screen legend left font ',10.5' textcolor rgb ink_sea
set label "■ setting out the rope" at screen 0.465, screen legend left font ',10.5' textcolor rgb ink_amber
plot cases using (0.5 * $2):(y($0)):(0):2:(y($0) - bar):(y($0) + bar):ytic(short(stringcolumn(1))) with boxxyerror \
        fillcolor rgb ink_red, \
    cases using (0):(y($0)):2:($2 + $3):(y($0) - bar):(y($0) + bar) with boxxyerror \
        fillcolor rgb ink_sea, \
    cases using (0):(y($0)):($2 + $3):($2 + $3 + $4):(y($0) - bar):(y($0) + bar) with boxxyerror \
        fillcolor rgb ink_amber, \
    cases using ($2 + $3 + $4):(y($0)):($7 > 0 ? sprintf('%.0f min', $2 + $3 + $4) : 'no-go') \
        with labels left offset 0.6, 0 font ',11' textcolor rgb ink_text

# ---- charge
unset label
set label 'Lowest charge, %; dashed: to keep' at graph 0, screen 1 - 96.0 / page_h left font ',12' textcolor rgb ink_text
set lmargin at screen 0.66
set rmargin at screen 0.97
set xrange [0:100]
set xtics 20
set ytics format ''
set xlabel '% of full'
plot cases using (0):(y($0)):(0):5:(y($0) - bar):(y($0) + bar) with boxxyerror fillcolor rgb '#93a6cf', \
    cases using 6:(y($0) - bar - 0.1):(0):(2 * bar + 0.2) with vectors nohead linestyle 9, \
    cases using 5:(y($0)):(sprintf('%.0f %%', $5)) with labels left offset 0.6, 0 font ',11' \
        textcolor rgb ink_text

unset multiplot
set output
