# Style of every plot: terminal by format, lines, grid, helpers.
#
# Set before this is loaded, by the program: plot_format (svg, png, pdf), plot_output. A script may
# set page_w, page_h (px of a screen at 96 dpi) first.
#
# Four inks that stay apart for every common kind of colour vision (least CIE Lab distance 37 in
# simulated protanopia and deuteranopia) and by lightness in grey print; lines differ in width and
# dashes, too. White paper, so that it reads in print and as a card on a dark screen.

set encoding utf8
if (!exists('page_w')) page_w = 900
if (!exists('page_h')) page_h = 620

faces = 'DejaVu Sans,Helvetica,Arial,sans-serif'
if (plot_format eq 'svg') {
    set terminal svg size page_w, page_h dynamic enhanced font faces.',13' fontscale 1.12 background '#ffffff' \
        linewidth 1.0 rounded
}
if (plot_format eq 'png') {
    set terminal pngcairo size 2 * page_w, 2 * page_h enhanced font 'DejaVu Sans,13' fontscale 1.75 \
        background '#ffffff' linewidth 2.0 rounded
}
if (plot_format eq 'pdf') {
    set terminal pdfcairo size page_w / 96.0 * 2.1cm, page_h / 96.0 * 2.1cm enhanced \
        font 'DejaVu Sans,12' fontscale 0.66 background '#ffffff' linewidth 0.8 rounded
}
set output plot_output

ink_deep  = '#152a68'
ink_amber = '#d48806'
ink_red   = '#ab1933'
ink_sea   = '#2aa89d'
ink_text  = '#22262b'
ink_soft  = '#5a616a'
ink_grid  = '#d9dde2'
ink_pull  = '#efe6d6'

set style line 1 linecolor rgb ink_deep  linewidth 2.4
set style line 2 linecolor rgb ink_amber linewidth 2.2
set style line 3 linecolor rgb ink_red   linewidth 1.8
set style line 4 linecolor rgb ink_sea   linewidth 2.2
# limits: thin, long dashes, never an ink of a curve
set style line 9 linecolor rgb ink_text  linewidth 1.4 dashtype (12, 5)
set style line 10 linecolor rgb ink_grid linewidth 0.8

set border 3 linecolor rgb ink_soft linewidth 1
set tics nomirror out scale 0.5 font ',10.5' textcolor rgb ink_text
set grid xtics ytics back linestyle 10
set key noautotitle textcolor rgb ink_text samplen 2.2
set title textcolor rgb ink_text
set xlabel font ',11' textcolor rgb ink_text
set ylabel textcolor rgb ink_text
set datafile separator tab
set datafile missing 'NaN'

# 1, 2, 5 steps that give about n tics over a span
nice_step(span, n) = span <= 0 ? 1 : nice_part(span / n)
nice_part(s) = nice_pick(s, 10 ** floor(log10(s)))
nice_pick(s, p) = s / p < 1.5 ? p : s / p < 3.5 ? 2 * p : s / p < 7.5 ? 5 * p : 10 * p
least(a, b) = a != a ? b : b != b ? a : a < b ? a : b
most(a, b) = a != a ? b : b != b ? a : a > b ? a : b

# a user's own words may be long: from a place across the page up to the right edge they shrink to a
# size that can be read, then are cut; a letter takes some 0.6 of the size
room_px(at) = (0.99 - at) * page_w
letters(at, size) = int(room_px(at) / (0.6 * size))
smallest = 9.5
fit_font(text, at, size) = sprintf(',%.2f', strlen(text) <= letters(at, size) ? size : \
    most(smallest, size * letters(at, size) / strlen(text)))
fit_text(text, at) = strlen(text) <= letters(at, smallest) ? text : \
    text[1:letters(at, smallest) - 1].'…'
# the two lines above the panels, and the heading of a panel, as macros
page_head = "set label fit_text(title, 0.03) at screen 0.03, screen 1 - 27.0 / page_h left noenhanced \
    font fit_font(title, 0.03, 15) textcolor rgb ink_text; \
    set label fit_text(answer, 0.03) at screen 0.03, screen 1 - 55.0 / page_h left noenhanced \
    font fit_font(answer, 0.03, 11) textcolor rgb ink_soft"
# points on a curve, the ring around what was chosen; SVG draws the same size larger
dot = plot_format eq 'svg' ? 0.6 : 1.2
ring = plot_format eq 'svg' ? 1.5 : 3.6
panel_head = "set label heading at graph 0, graph 1 left offset 0, 1.0 font ',12' \
    textcolor rgb ink_text"
# the key on the right of the heading, of a panel so many px high
key_above(px) = 1.0 + 31.0 / px
# px from the top of the page as a place on the screen
from_top(px) = 1.0 - px / (1.0 * page_h)
clock(s) = s < 90 ? sprintf('%.0f s', s) : \
    s < 3600 ? sprintf(int(s + 0.5) % 60 == 0 ? '%d min' : '%d min %02d s', int(s + 0.5) / 60, int(s + 0.5) % 60) : \
    sprintf('%d h %02d min', int(s + 30) / 3600, int(s + 30) / 60 % 60)
