"""How passwords are kept."""

from django.contrib.auth.hashers import Argon2PasswordHasher


class Argon2id(Argon2PasswordHasher):
    """Argon2id at the size that OWASP's password storage cheat sheet gives (46 MiB, one pass, one lane; from
    memory).

    The framework's own default takes 100 MiB and eight lanes: twenty people signing in at once would claim 2
    GiB.
    """

    time_cost = 1
    memory_cost = 47_104
    parallelism = 1
