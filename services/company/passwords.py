"""What a password may be, beside what the framework's own checks refuse."""

from typing import Any, Final

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

LONGEST: Final = 128
OURS: Final = ("stickbook",)


class NotTooLong:
    """At most 128 characters: what is hashed is bounded."""

    def validate(self, password: str, user: Any = None) -> None:
        """Raises ValidationError."""
        if len(password) > LONGEST:
            raise ValidationError(self.get_help_text(), code="password_too_long")

    def get_help_text(self) -> str:
        """For a person."""
        return _("A password has at most %(longest)d characters.") % {"longest": LONGEST}


class NoPlainSigns:
    """No sign that a database cannot be asked about (NUL), and no half of a pair."""

    def validate(self, password: str, user: Any = None) -> None:
        """Raises ValidationError."""
        if "\0" in password or any("\ud800" <= sign <= "\udfff" for sign in password):
            raise ValidationError(self.get_help_text(), code="password_no_text")

    def get_help_text(self) -> str:
        """For a person."""
        return _("A password is text.")


class NotOurWords:
    """Not this program's own name with a little around it: whoever guesses begins there."""

    def validate(self, password: str, user: Any = None) -> None:
        """Raises ValidationError."""
        rest = password.lower()
        for word in OURS:
            rest = rest.replace(word, "")
        if rest != password.lower() and len(rest) < 8:
            raise ValidationError(self.get_help_text(), code="password_our_words")

    def get_help_text(self) -> str:
        """For a person."""
        return _("A password is not this program’s name with a few characters more.")
