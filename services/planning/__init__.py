"""Plans, sticks and stick lines; the only app that calls the engine's planner."""
