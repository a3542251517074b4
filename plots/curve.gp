# The picture of a measurement, for PNG, SVG and PDF. Change the looks here as you like; the program
# puts the terminal, these variables and these data in front of this file:
#
#   title_text title_size            what stands above, any text (so keep noenhanced); its font size
#   length_unit, force_unit          "in" and "lbf", or "m" and "N"
#   ata_offset                       1.75 in: the ATA axis is draw position + this
#   x_min x_max y_max                the window on the data
#   margin_left margin_right margin_bottom margin_top   edges of the plot area, shares of the picture
#   line                             height of a line of text, share of the picture
#   n_pulls has_let_down has_full_draw has_energy has_loop has_marks has_labels has_leaders
#   mark_size                        1, or what looks the same in this terminal
#   $DRAW $LET_DOWN                  draw position, force; a blank line between pulls
#   $ENERGY                          draw position, force of the draw, force of the let-down
#   $FULL_DRAW                       the upright at full draw
#   $MARKS                           draw position, force of the points that labels name
#   $LABELS                          draw position, force (of the label's middle), text
#   $LEADERS                         lines from the marks to labels that stand apart

# Dark and light differ by lightness first, so that grey print and any eye can tell them apart.
ink       = '#20262b'
quiet     = '#6b747b'
hair      = '#d5dade'
draw_line = '#143f5c'
back_line = '#a0450c'
draw_pale = '#86a3b6'
back_pale = '#cf9f7f'
stored    = '#e4ecf1'
lost      = '#bac8d1'

set lmargin at screen margin_left
set rmargin at screen margin_right
set bmargin at screen margin_bottom
set tmargin at screen margin_top

set label 1 title_text at screen margin_left, screen 1 - 1.25 * line left font sprintf(',%d', title_size) textcolor rgb ink \
    noenhanced
set key at screen margin_left, screen 1 - 2.3 * line left top horizontal Left reverse noenhanced \
    samplen 2 width 0 textcolor rgb ink
set xlabel sprintf('draw position from the pivot point, %s', length_unit) textcolor rgb ink
set ylabel sprintf('force, %s', force_unit) offset 1,0 textcolor rgb ink
set label 2 sprintf('ATA draw axis, %s', length_unit) at screen margin_right, screen 1 - 3.3 * line right \
    textcolor rgb quiet

set xrange [x_min:x_max]
set yrange [0:y_max]
set x2range [x_min + ata_offset:x_max + ata_offset]
set border 7 linecolor rgb quiet linewidth 1
set xtics nomirror out scale 0.6 textcolor rgb ink
set ytics nomirror out scale 0.6 textcolor rgb ink
set x2tics nomirror out scale 0.6 offset 0,-0.3 textcolor rgb quiet
set grid xtics ytics linetype 1 linecolor rgb hair linewidth 0.6
set style fill solid 1.0 noborder

# With several pulls the first is drawn in full and the others thin and pale beneath it.
plot \
    $ENERGY using (has_energy ? $1 : NaN):2 with filledcurves y1=0 linecolor rgb stored \
        title (has_loop ? 'energy returned' : has_energy ? 'energy stored' : ''), \
    $ENERGY using (has_loop ? $1 : NaN):2:3 with filledcurves linecolor rgb lost \
        title (has_loop ? 'hysteresis loss' : ''), \
    $DRAW using (n_pulls > 1 ? $1 : NaN):2 every :::1 with lines linecolor rgb draw_pale \
        linewidth 1 notitle, \
    $LET_DOWN using (n_pulls > 1 ? $1 : NaN):2 every :::1 with lines linecolor rgb back_pale \
        linewidth 1 notitle, \
    $DRAW using 1:2 every :::0::0 with lines linecolor rgb draw_line linewidth 2.6 title 'draw', \
    $LET_DOWN using (has_let_down ? $1 : NaN):2 every :::0::0 with lines linecolor rgb back_line \
        linewidth 2.2 dashtype (9,4) title (has_let_down ? 'let-down' : ''), \
    $FULL_DRAW using (has_full_draw ? $1 : NaN):2 with lines linecolor rgb quiet linewidth 1 \
        dashtype (2,4) notitle, \
    $LEADERS using (has_leaders ? $1 : NaN):2 with lines linecolor rgb quiet linewidth 0.8 notitle, \
    $MARKS using (has_marks ? $1 : NaN):2 with points pointtype 7 pointsize 1.3 * mark_size \
        linecolor rgb '#ffffff' notitle, \
    $MARKS using (has_marks ? $1 : NaN):2 with points pointtype 7 pointsize 0.9 * mark_size \
        linecolor rgb ink notitle, \
    $LABELS using (has_labels ? $1 : NaN):2:3 with labels center textcolor rgb ink notitle
