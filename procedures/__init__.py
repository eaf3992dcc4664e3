"""The core: what a checkout is, how it is judged, and what is remembered of it. Knows no screen and reads no clock."""
