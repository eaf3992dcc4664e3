"""Practice in use: simulated instruments worked beside the real checkout screens, kept in a journal of their own.

`room` opens the records of practice, `keeping` writes sessions down and reads them back, `desk` is the desk at which a
trainee works. What a session comes to is worked out by `procedures.practice` from what was done, never written by hand.
"""
