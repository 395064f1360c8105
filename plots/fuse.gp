# Seconds until a fuse opens, beside the other forms of the same rating.
#
# Table: curve   1 current over rating, 2 s of this fuse, 3..7 s of each form: bolt-down, strip, large
#                blade, blade, breaker (NaN: holds)
# Variables: title (text); rating_A

page_w = 900
page_h = 560
load plot_folder.'/style.gp'

answer = sprintf('A fuse of %.0f A; typical times in the wide window that standards allow a fuse', rating_A)
set lmargin at screen 0.09
set rmargin at screen 0.965
set tmargin at screen from_top(112)
set bmargin at screen from_top(page_h - 62)
set logscale xy
set xrange [1:10]
set yrange [0.01:3600]
set xtics ('1' 1, '1.35' 1.35, '2' 2, '3' 3, '4' 4, '5' 5, '6' 6, '8' 8, '10' 10)
set ytics ('10 ms' 0.01, '100 ms' 0.1, '1 s' 1, '10 s' 10, '1 min' 60, '10 min' 600, '1 h' 3600)
set xlabel sprintf('current over rating (1 is %.0f A)', rating_A) offset 0, 0.3
heading = 'Time until it opens'
@page_head
@panel_head
set key at graph 0.98, graph 0.97 right top vertical font ',10.5'
plot curve using 1:3 with lines linecolor rgb ink_deep linewidth 1.4 dashtype (24, 8) title 'bolt-down', \
    curve using 1:4 with lines linecolor rgb ink_sea linewidth 1.4 dashtype (24, 8) title 'strip', \
    curve using 1:5 with lines linecolor rgb ink_amber linewidth 1.4 dashtype (24, 8) title 'large blade', \
    curve using 1:6 with lines linecolor rgb ink_soft linewidth 1.4 dashtype (3, 8) title 'blade', \
    curve using 1:7 with lines linecolor rgb ink_soft linewidth 1.4 dashtype (24, 8, 4, 8) title 'breaker', \
    curve using 1:2 with lines linestyle 3 linewidth 3 title 'this one'
set output
