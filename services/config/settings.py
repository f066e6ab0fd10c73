"""Settings, all from the environment. Touch no disk; production starts only with every variable that it
needs."""

import sys
from typing import Any, Final

from environs import Env, validate

# SQLite up to 3.51.2 can corrupt a write-ahead log under two connections; the packaged one is past that.
try:
    import pysqlite3
except ImportError:  # no wheel for this machine: the system's own, without the write-ahead log
    SQLITE_IS_SOUND = False
else:
    sys.modules["sqlite3"] = pysqlite3
    SQLITE_IS_SOUND = pysqlite3.sqlite_version_info >= (3, 51, 3)

env = Env(eager=False, prefix="STICKBOOK_")

MODE: Final = env.str("MODE", "production", validate=validate.OneOf(["production", "embedded", "test"]))
PRODUCTION: Final = MODE not in ("embedded", "test")
DEBUG = False
SECRET_KEY = env.str("SECRET_KEY", validate=validate.Length(min=50 if PRODUCTION else 1))
SECRET_KEY_FALLBACKS: list[str] = env.list("SECRET_KEY_FALLBACKS", [])
_hosts = validate.Length(min=1), validate.ContainsNoneOf(["*", ""])
ALLOWED_HOSTS: list[str] = (
    env.list("HOSTS", validate=_hosts)
    if PRODUCTION
    else env.list("HOSTS", ["127.0.0.1", "localhost", "[::1]", "testserver"], validate=_hosts)
)
_database: dict[str, Any] = env.dj_db_url("DATABASE_URL")
STATIC_ROOT = env.str("STATIC_ROOT", validate=validate.Length(min=1)) if PRODUCTION else None
# Where people reach the service: what the codes on papers lead to.
ADDRESS: str = env.str(
    "ADDRESS", f"https://{ALLOWED_HOSTS[0]}" if PRODUCTION and ALLOWED_HOSTS else "http://127.0.0.1:8000"
)
env.seal()
CSRF_TRUSTED_ORIGINS = [f"https://{host}" for host in ALLOWED_HOSTS] if PRODUCTION else []

if _database.get("ENGINE", "").endswith("sqlite3"):
    _database["OPTIONS"] = {
        "transaction_mode": "IMMEDIATE",
        "timeout": 3,
        "init_command": (
            "PRAGMA foreign_keys=ON;"
            + (
                "PRAGMA journal_mode=WAL;PRAGMA synchronous=FULL;"
                if SQLITE_IS_SOUND
                else "PRAGMA synchronous=FULL;"
            )
        ),
    }
else:
    _database.setdefault("OPTIONS", {})
    _database["OPTIONS"].setdefault("connect_timeout", 2)
    _database["CONN_MAX_AGE"] = 60
    _database["CONN_HEALTH_CHECKS"] = True
_database["ATOMIC_REQUESTS"] = False
DATABASES = {"default": _database}

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "rest_framework",
    "django_htmx",
    "axes",
    "services.core",
    "services.company",
    "services.bench",
    "services.projects",
    "services.planning",
    "services.tracking",
    "services.stock",
    "services.costing",
    "services.papers",
    "services.pages",
    "services.demo",
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "csp.middleware.CSPMiddleware",
    "services.core.middleware.Headers",
    "services.core.middleware.RequestId",
    "services.core.middleware.HttpsOnly",
    "services.core.middleware.NoNul",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "services.core.middleware.Problems",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "services.company.middleware.CompanyScope",
    "django_htmx.middleware.HtmxMiddleware",
    "axes.middleware.AxesMiddleware",
]
ROOT_URLCONF = "services.config.urls"
WSGI_APPLICATION = "services.config.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.messages.context_processors.messages",
                "services.pages.context.page",
            ],
        },
    },
]
AUTH_USER_MODEL = "company.User"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
PASSWORD_HASHERS = [
    "services.company.hashers.Argon2id",
]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 12},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {
        "NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator",
        "OPTIONS": {"user_attributes": ("email", "name")},
    },
    {"NAME": "services.company.passwords.NotTooLong"},
    {"NAME": "services.company.passwords.NoPlainSigns"},
    {"NAME": "services.company.passwords.NotOurWords"},
]
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "wall-chart"
LOGOUT_REDIRECT_URL = "sign-in"
AXES_FAILURE_LIMIT = 5
AXES_COOLOFF_TIME = 0.25
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_RESET_COOL_OFF_ON_FAILURE_DURING_LOCKOUT = False
AXES_RESET_ON_SUCCESS = True
AXES_LOCKOUT_TEMPLATE = "locked-out.html"
AXES_IPWARE_PROXY_COUNT = 1 if PRODUCTION else 0
AXES_ALLOWED_CORS_ORIGINS = ""
AXES_VERBOSE = False
# What is kept of a form with a miss in it: never its secrets. "password" is masked anyway.
AXES_SENSITIVE_PARAMETERS = ["username", "ip_address", "token", "old", "new"]

LANGUAGE_CODE = "en-gb"
LANGUAGES = [("en-gb", "English")]
USE_I18N = True
USE_TZ = True
TIME_ZONE = "UTC"
STATIC_URL = "static/"
WHITENOISE_USE_FINDERS = not PRODUCTION
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"
        if PRODUCTION
        else "django.contrib.staticfiles.storage.StaticFilesStorage"
    },
}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

SESSION_COOKIE_AGE = 43_200  # 12 h from the last request (services.company.sessions)
SESSION_ABSOLUTE_AGE = 604_800  # 7 days from the sign-in, however much it is used
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_HTTPONLY = True
CSRF_COOKIE_SAMESITE = "Lax"
CSRF_FAILURE_VIEW = "services.core.handlers.unguarded"
X_FRAME_OPTIONS = "DENY"
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
# A run sheet of the most rows that a run may have (200, of fifteen fields each) and a few fields of its own
# is about 3,010 fields. It is at most some 200 kB, with the rows as they were opened; the rest is for the
# API.
DATA_UPLOAD_MAX_MEMORY_SIZE = 1_000_000
DATA_UPLOAD_MAX_NUMBER_FIELDS = 3_400
DATA_UPLOAD_MAX_NUMBER_FILES = 5
FILE_UPLOAD_HANDLERS = ["services.core.uploads.Bounded"]
FILE_UPLOAD_MAX_MEMORY_SIZE = 2_200_000  # what `core.uploads` lets in, so that no file touches the disk
if PRODUCTION:
    SECURE_SSL_REDIRECT = True
    SECURE_REDIRECT_EXEMPT = [
        r"^api/"
    ]  # refused instead: a program that was redirected has sent its secrets already
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    SECURE_HSTS_SECONDS = 63_072_000
    SECURE_HSTS_INCLUDE_SUBDOMAINS = True
    SECURE_HSTS_PRELOAD = True
    SESSION_COOKIE_NAME = "__Host-session"
    CSRF_COOKIE_NAME = "__Host-csrf"
    SESSION_COOKIE_SECURE = True
    CSRF_COOKIE_SECURE = True

_NONE, _SELF = "'none'", "'self'"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [_NONE],
        "script-src": [_SELF],
        "style-src": [_SELF],
        "img-src": [_SELF, "data:"],
        "font-src": [_SELF],
        "connect-src": [_SELF],
        "form-action": [_SELF],
        "base-uri": [_NONE],
        "object-src": [_NONE],
        "frame-ancestors": [_NONE],
    }
}
REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": ["rest_framework.authentication.SessionAuthentication"],
    "DEFAULT_PERMISSION_CLASSES": ["services.company.permissions.NeedsRight"],
    "DEFAULT_PARSER_CLASSES": ["services.core.parsers.StrictJSONParser"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_SCHEMA_CLASS": "services.core.openapi.Described",
    "EXCEPTION_HANDLER": "services.core.problems.drf_exception_handler",
    "UNAUTHENTICATED_USER": None,
}
SPECTACULAR_SETTINGS = {
    "OAS_VERSION": "3.1.1",
    "TITLE": "Stickbook",
    "VERSION": "1",
    "DESCRIPTION": "Lengths are in mm, angles in degrees, times in UTC, money is decimal text.",
    "SERVERS": [{"url": "/"}],
    "SCHEMA_PATH_PREFIX": "/api/v1",
    "COMPONENT_SPLIT_PATCH": False,
    "ENUM_GENERATE_CHOICE_DESCRIPTION": False,
    "SORT_OPERATIONS": False,
    "POSTPROCESSING_HOOKS": ["services.core.openapi.complete"],
}
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "{asctime} {levelname} {name} {message}", "style": "{"}},
    "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["stderr"], "level": "WARNING"},
}
