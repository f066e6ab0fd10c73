"""Drawings of a plan as SVG text, the same on screen and on paper."""

from bendcore.drawing.isometric import run_isometric, stick_isometric
from bendcore.drawing.pose import pose
from bendcore.drawing.strip import strip
from bendcore.drawing.style import TOKENS, stylesheet

__all__ = ["TOKENS", "pose", "run_isometric", "stick_isometric", "strip", "stylesheet"]
