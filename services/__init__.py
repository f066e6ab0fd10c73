"""The Django project: remembers what bendcore computes, and who did what."""
