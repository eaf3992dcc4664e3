"""The append-only journal: envelope, store, and the fold from events to state."""
