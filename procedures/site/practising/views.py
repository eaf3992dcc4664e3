"""What practice hands to a front end: the face of an instrument as a value, and how it is told in words."""

from procedures.practice.face import BATTERY, BatteryFace, DigitsFace, Face, Look, NeedleFace, RoomFace
from procedures.practice.observing import in_words

__all__ = ["BATTERY", "BatteryFace", "DigitsFace", "Face", "Look", "NeedleFace", "RoomFace", "in_words"]
