"""The way in for a web server."""

from services.config import embedded

embedded.prepare()

from django.core.wsgi import get_wsgi_application  # noqa: E402 - the environment comes first

application = get_wsgi_application()

from django.conf import settings  # noqa: E402

if not settings.PRODUCTION:
    from services.core import worker

    worker.start()
