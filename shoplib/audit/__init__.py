"""An archive looked at as a whole: every sheet, job and trace verified, and what is unusual across the jobs."""
