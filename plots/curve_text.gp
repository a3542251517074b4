# The picture of a measurement made of characters, for a terminal. The same variables and data as in
# curve.gp are put in front of this file.

set lmargin 8
set rmargin 3
set bmargin 4
set tmargin 5
set title title_text noenhanced
set xlabel sprintf('draw position, %s', length_unit)
set x2label sprintf('ATA, %s', length_unit)
set xrange [x_min:x_max]
set yrange [0:y_max]
set x2range [x_min + ata_offset:x_max + ata_offset]
set xtics nomirror
set ytics nomirror
set x2tics nomirror
set border 3
set tics scale 0
unset key

plot \
    $LET_DOWN using (has_let_down ? $1 : NaN):2 with lines linetype 2 notitle, \
    $DRAW using 1:2 with lines linetype 1 notitle, \
    $LABELS using (has_labels ? $1 : NaN):2:3 with labels center notitle
