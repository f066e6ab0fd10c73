"""Commands, scoping by company, problems, ids, money, outbox, fault points: what every app stands on."""
