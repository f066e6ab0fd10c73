"""Companies, people, roles, rights, crews, devices and sign-in."""
