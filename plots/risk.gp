# How sure is the plan: chance against rest, and what the needed rest hangs on.
#
# Tables: curve   1 rest, minutes, 2 share of recoveries in which it is enough, %
#         marks   1 rest, minutes, 2 share that held, %: of the plan, then of the rests proposed
#         bars    1 input and its range (text), 2 rest needed at its low end, 3 at its high end,
#                 minutes, negative where no rest is long enough, 4 total index
# Variables: title, answer, plan_text, first_text, second_text (texts; empty: no such mark); n_bars;
#            plan_rest, longest_rest (minutes); none_share (%)

page_w = 900
page_h = 550 + 34 * n_bars
load plot_folder.'/style.gp'

stats curve using 1 nooutput name 'REST'
known(v) = v < 0 ? NaN : v
stats bars using (known($2)) nooutput name 'LOW'
stats bars using (known($3)) nooutput name 'HIGH'
stats marks using 1 nooutput name 'MARK'

px(y) = 1.0 - y / (1.0 * page_h)
set multiplot

# ---- chance against rest
set lmargin at screen 0.085
set rmargin at screen 0.93
set tmargin at screen px(122)
set bmargin at screen px(390)
set label 1 fit_text(title, 0.085) at screen 0.085, screen px(26) left noenhanced font fit_font(title, 0.085, 15) textcolor rgb ink_text
set label 2 fit_text(answer, 0.085) at screen 0.085, screen px(50) left noenhanced font fit_font(answer, 0.085, 10) textcolor rgb ink_soft
set label 3 'Recoveries in which a rest is long enough, %' at screen 0.085, screen px(82) left \
    font ',12' textcolor rgb ink_text
if (none_share > 0) {
    set label 4 sprintf('in %.0f %% no rest is', none_share) at screen 0.93, screen px(82) right \
        font ',10.5' textcolor rgb ink_red
}
x_end = 1.08 * most(most(REST_up_quartile * 2 - REST_lo_quartile, MARK_max), plan_rest)
x_end = x_end > 1.04 * REST_max ? 1.04 * REST_max : x_end
x_end = x_end < 1.08 * most(MARK_max, plan_rest) ? 1.08 * most(MARK_max, plan_rest) : x_end
set xrange [0:x_end]
set yrange [0:100]
set xtics nice_step(x_end, 9) format '%g'
set ytics 20
set xlabel 'rest after each pull, minutes' offset 0, 0.3
set key at screen 0.93, screen px(106) right center horizontal maxrows 1 font ',10.5' samplen 1.6
plot curve using 1:2 with lines linestyle 1 linewidth 2.8, \
    marks using 1:($0 == 0 ? $2 : NaN) with impulses linecolor rgb ink_amber linewidth 2.4 \
        title plan_text, \
    marks using 1:($0 == 1 ? $2 : NaN) with impulses linecolor rgb ink_sea linewidth 2.4 \
        title first_text, \
    marks using 1:($0 == 2 ? $2 : NaN) with impulses linecolor rgb ink_red linewidth 2.4 \
        title second_text, \
    marks using 1:($0 == 0 ? $2 : NaN) with points pointtype 7 pointsize 1.1 \
        linecolor rgb ink_amber, \
    marks using 1:($0 == 1 ? $2 : NaN) with points pointtype 7 pointsize 1.1 \
        linecolor rgb ink_sea, \
    marks using 1:($0 == 2 ? $2 : NaN) with points pointtype 7 pointsize 1.1 \
        linecolor rgb ink_red
unset key
unset label

# ---- what it hangs on
set tmargin at screen px(496)
set bmargin at screen px(page_h - 66)
set lmargin at screen 0.46
set rmargin at screen 0.88
set label 1 'Rest needed with one input low or high, all else likely' \
    at screen 0.085, screen px(462) left font ',12' textcolor rgb ink_text
set label 2 'share of the spread' at screen 0.985, screen px(484) right font ',10.5' \
    textcolor rgb ink_soft
b_low = least(least(LOW_min, HIGH_min), plan_rest)
b_high = most(most(LOW_max, HIGH_max), plan_rest)
b_span = b_high - b_low < 0.5 ? 0.5 : b_high - b_low
x0 = b_low - 0.06 * b_span
x0 = x0 < 0 ? 0 : x0
x1 = b_high + 0.14 * b_span
set xrange [x0:x1]
set yrange [n_bars - 0.4:-0.6]
set xtics nice_step(x1 - x0, 6) format '%g'
set xlabel 'rest after each pull, minutes' offset 0, 0.3
set border 1 linecolor rgb ink_soft
unset ytics
set grid xtics noytics
set style fill solid 1.0 noborder
set key at screen 0.46, screen px(484) left center Left reverse horizontal font ',10.5'
end_of(v) = v < 0 ? x1 : v
half = 0.3
thin = 0.02
# nearer to the rest of the plan than this is no bar that could be seen
none = 0.006 * (x1 - x0)
unmoved(low, high) = abs(end_of(low) - plan_rest) < none && abs(end_of(high) - plan_rest) < none
# low end above, high end below, for both may lie on the same side of the plan; where no rest is
# long enough the bar runs to the edge and says so
plot bars using (0.5 * (plan_rest + end_of($2))):0:(least(plan_rest, end_of($2))): \
        (most(plan_rest, end_of($2))):($0 - half):($0 - thin) \
        with boxxyerror fillcolor rgb ink_sea title 'low end', \
    bars using (0.5 * (plan_rest + end_of($3))):0:(least(plan_rest, end_of($3))): \
        (most(plan_rest, end_of($3))):($0 + thin):($0 + half) \
        with boxxyerror fillcolor rgb ink_deep title 'high end', \
    bars using (plan_rest):0:(unmoved($2, $3) ? 'the same rest at both ends' : '') with labels left \
        offset 1, 0 font ',10' textcolor rgb ink_soft, \
    bars using (x1):0:($2 < 0 || $3 < 0 ? 'none is enough ' : '') with labels right \
        font ',10' textcolor rgb '#ffffff', \
    bars using (x0):0:1 with labels right offset -1, 0 noenhanced font ',10.5' \
        textcolor rgb ink_text, \
    bars using (x1):0:($4 == $4 ? sprintf('%.2f', $4 < 0 ? 0 : $4) : '') with labels left \
        offset 2.2, 0 font ',10.5' textcolor rgb ink_soft, \
    '+' using (plan_rest):($0 == 0 ? -0.6 : n_bars - 0.4) every ::0::1 with lines linestyle 9
unset multiplot
set output
