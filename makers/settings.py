"""Settings: one module, values from the environment, safe defaults, loud failure.

Every variable read here stands in README.md, section "Settings"; a test compares the two lists.
"""

from __future__ import annotations

import os
import secrets
from pathlib import Path
from typing import Any

import dj_database_url
from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured

from makers.bootstrap import default_data_folder

ROOT = Path(__file__).resolve().parent.parent

TRUTH = {"true": True, "false": False, "1": True, "0": False, "yes": True, "no": False}


def env_bool(name: str, *, default: bool) -> bool:
    """Read a truth value from the environment; anything unclear stops the start."""
    try:
        return TRUTH[os.environ.get(name, str(default)).lower()]
    except KeyError as error:
        raise ImproperlyConfigured(f"{name} must be true or false.") from error


TESTING = env_bool("STILLROOM_TESTING", default=False)
DATA = Path(os.environ.get("STILLROOM_DATA") or default_data_folder()).expanduser().resolve()


def secret_key() -> str:
    """The secret of this installation: from the environment, a named file, or made on first start."""
    if value := os.environ.get("STILLROOM_SECRET"):
        return value
    path = Path(os.environ.get("STILLROOM_SECRET_FILE") or DATA / "secret")
    if not path.exists():
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        try:
            handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        except FileExistsError:
            pass
        else:
            with os.fdopen(handle, "w") as file:
                file.write(secrets.token_urlsafe(50))
    return path.read_text().strip()


SECRET_KEY = "only-for-tests-" * 4 if TESTING else secret_key()
DEBUG = env_bool("STILLROOM_DEBUG", default=False)
HTTPS = env_bool("STILLROOM_HTTPS", default=False)

ALLOWED_HOSTS = [
    host for host in os.environ.get("STILLROOM_HOSTS", "localhost,127.0.0.1,[::1]").split(",") if host
]
if TESTING:
    ALLOWED_HOSTS += ["testserver"]
CSRF_TRUSTED_ORIGINS = [f"https://{host}" for host in ALLOWED_HOSTS if host != "*"] if HTTPS else []

INSTALLED_APPS = [
    "makers.apps.MakersConfig",
    "formulas.apps.FormulasConfig",
    "batches.apps.BatchesConfig",
    "labels.apps.LabelsConfig",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django_htmx",
    "csp",
    "axes",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "makers.middleware.MakerMiddleware",
    "axes.middleware.AxesMiddleware",
]

ROOT_URLCONF = "makers.urls"
WSGI_APPLICATION = "makers.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "makers.context.house",
            ],
        },
    },
]
FORM_RENDERER = "django.forms.renderers.TemplatesSetting"
INSTALLED_APPS += ["django.forms"]


def database() -> dict[str, Any]:
    """The embedded database by default; PostgreSQL where DATABASE_URL says so."""
    url = os.environ.get("DATABASE_URL", "")
    if url:
        found: dict[str, Any] = dict(dj_database_url.parse(url))
        if "postgresql" in str(found["ENGINE"]):
            options = dict(found.get("OPTIONS") or {})
            if TESTING:
                # Nothing that a test writes has to outlive it, and compiling its short queries takes longer than they.
                options["options"] = "-c jit=off -c synchronous_commit=off"
            else:
                options["pool"] = {"min_size": 1, "max_size": 8, "timeout": 10}
            found["OPTIONS"] = options
            return found
        name = found["NAME"]
    else:
        name = str(DATA / "stillroom.sqlite3")
        if not TESTING:
            DATA.mkdir(parents=True, exist_ok=True, mode=0o700)
    return {
        "ENGINE": "django.db.backends.sqlite3",
        "NAME": name,
        "CONN_MAX_AGE": None,
        "OPTIONS": {
            "transaction_mode": "IMMEDIATE",
            "timeout": 20,
            "init_command": (
                "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA recursive_triggers=ON;"
            ),
        },
    }


DATABASES = {"default": database()}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "makers.User"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
if TESTING:
    PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "sign-in"

AXES_FAILURE_LIMIT = 5
AXES_COOLOFF_TIME = 0.25
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_USERNAME_CALLABLE = "makers.views.doors.email_tried"
AXES_RESET_ON_SUCCESS = True
AXES_LOCKOUT_TEMPLATE = "makers/locked_out.html"
AXES_VERBOSE = False

LANGUAGE_CODE = "en"
TIME_ZONE = "UTC"
USE_I18N = True
USE_TZ = True

STATIC_URL = "/static/"
STATIC_ROOT = Path(os.environ.get("STILLROOM_STATIC") or DATA / "static")
MEDIA_ROOT = DATA / "files"
KEPT_ROOT = DATA / "kept"  # files of forms that came back, for a day; no record
FILE_UPLOAD_PERMISSIONS = 0o600
DATA_UPLOAD_MAX_NUMBER_FIELDS = 5000
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"
        if TESTING or DEBUG
        else "whitenoise.storage.CompressedManifestStaticFilesStorage"
    },
}
WHITENOISE_USE_FINDERS = TESTING or DEBUG
WHITENOISE_AUTOREFRESH = DEBUG

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:"],
        "object-src": [NONE],
        "base-uri": [SELF],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
    }
}
SESSION_COOKIE_SECURE = HTTPS
CSRF_COOKIE_SECURE = HTTPS
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_AGE = 60 * 60 * 24 * 14
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
if HTTPS:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    SECURE_HSTS_SECONDS = 60 * 60 * 24 * 30
SILENCED_SYSTEM_CHECKS = [
    "security.W005",  # whether other names below the owner's domain use TLS is not known here
    "security.W008",  # the proxy with TLS redirects; the health check inside speaks plain HTTP
    "security.W021",  # a browser's preload list is the owner's own decision
]

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "handlers": {"console": {"class": "logging.StreamHandler"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
    # Whoever asks for a name that is not this house's gets 400; the terminal need not fill with it.
    "loggers": {"django.security.DisallowedHost": {"level": "CRITICAL"}},
}
