"""Practice: simulated instruments to be operated and read, the faults they can have, and what is true of them.

Pure: no clock, no global randomness, no screen. Time goes on when somebody says `advance(seconds)`, in virtual or real
time; every source of noise has a generator of its own, so that a seed gives the same instrument every time.

What is here, and for whom:

- `cases.read_case` reads a case that a trainer wrote (instrument, room, faults), `models.read_model` the invented
  values of a type of instrument; both are strict and name line and column. `packaged` hands out those that come along.
- `instrument.SimInstrument(model, faults, seed, now)` is the thing on the bench. `set(control, value)` and
  `remedy(action)` are all that anybody can do to it; `face()` is all that anybody can see, hear and read of it.
- `truth.truth_of` says from the physics, without noise, whether it is sound by the limits of its profile.

Who builds on it:

- A perfect observer runs a profile headless: it takes the place of the answers file in a rehearsal, works the controls
  each ask names, lets the ask's time pass with `advance`, and answers from `face()`; `observing.read` and
  `observing.battery_place` turn a face into what an ask wants. What the profile finds then is compared with the truth
  and with what the trainee found. Sources and reference readings of the opening are those of `model.sources`.
- A face on a screen calls `advance(0.1)` and draws `face()` ten times a second. `Face` is a value, so equal faces need
  no new drawing. Positions are fractions of the scale; `NeedleFace` brings the figures and divisions to print.
- Line mode says the same face in words: `observing.in_words`.

After a remedy other faults are there than before: `catalogue.remaining(faults, *actions)` is what the truth is asked of
then. Faults that come and go at random (radio, a loose plug, noise) may not show in the seconds of a checkout: the
truth is faulty, and with an unlucky seed a perfect observer finds nothing.

Nobody outside reads the inside of a `SimInstrument`: whoever needs to know what is wrong asks `truth_of`.
"""
