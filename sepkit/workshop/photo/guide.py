"""How to take the photograph, as text with a drawing: for a terminal and the README."""

from __future__ import annotations

GUIDE = """\
How to photograph a test print, or the wedge

            camera, straight above, parallel to the print
                          [===]
                            |
                            |  30 to 60 cm
      lamp or window        |        lamp or window
          \\\\                |                //
           \\\\   45°         |         45°   //
            \\\\              |              //
     --------+------------[print]-----------+--------   platen or table, flat
             |  2 cm of cloth all round it  |

  - Flat on the platen or a table, smoothed by hand, lint off with a roller. No folds.
  - Light from two sides, or a window under an even sky. No flash, no shadow of a hand or the phone.
  - Straight above, parallel: all four corners of the print look alike. The whole print with 2 cm of cloth around it.
  - Fill the frame: 8 pixels for each mm of the print are needed (a print of 300 mm: 2400 pixels).
  - Tap the print to focus, hold still. JPEG in full size, not a messenger's copy. A flatbed's scan works as well.
  - Make the films with --check-discs and leave the discs open for the first pull: register is exact with them only.
    Tape them off afterwards.
"""
