"""Django's command line, with the embedded service's environment where nothing else is said."""

import sys

from services.config import embedded

if __name__ == "__main__":
    embedded.prepare()
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)
