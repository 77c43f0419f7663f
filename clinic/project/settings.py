"""All settings. Two ways to run: `embedded` (one process, SQLite, no services) and `full` (PostgreSQL, Redis, workers)."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured

from clinic.project import environment as env

ROOT = Path(__file__).resolve().parents[2]
MODE = env.text("INTERVALE_MODE", "embedded")
if MODE not in {"embedded", "full"}:
    raise ImproperlyConfigured(f"INTERVALE_MODE must be embedded or full, not {MODE!r}")
FULL = MODE == "full"
DEMO = env.flag("INTERVALE_DEMO")
if FULL and DEMO:
    raise ImproperlyConfigured("INTERVALE_DEMO lets anyone sign in as anyone: it cannot be combined with full mode")

DATA = Path(env.text("INTERVALE_DATA", str(ROOT / ".data")))
DATA.mkdir(parents=True, exist_ok=True)
DEBUG = False
SECRET_KEY = env.text("INTERVALE_SECRET_KEY") or ("" if FULL else env.kept_secret(DATA))
if not SECRET_KEY:
    raise ImproperlyConfigured("INTERVALE_SECRET_KEY (or INTERVALE_SECRET_KEY_FILE) must be set in full mode")
# keys that the present one replaced: what they signed holds until they are taken out here
SECRET_KEY_FALLBACKS = env.text("INTERVALE_SECRET_KEY_OLD").split()

PUBLIC_URL = env.text("INTERVALE_URL", "http://127.0.0.1:8000").rstrip("/")
ALLOWED_HOSTS = env.text("INTERVALE_HOSTS", "127.0.0.1,localhost,testserver").split(",")
CSRF_TRUSTED_ORIGINS = [PUBLIC_URL]
HTTPS = PUBLIC_URL.startswith("https://")
# how many days a screening counts when a program is given: a year, as long as the pre-participation recommendations let a
# clearance count (Riebe D et al. 2015, from memory); what a client answers does not stay true for longer
SCREENING_DAYS = int(env.text("INTERVALE_SCREENING_DAYS", "365"))

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django.contrib.postgres",
    "rest_framework",
    "drf_spectacular",
    "django_htmx",
    "csp",
    "clinic.project",
    "clinic.people",
    "clinic.reminders",
    "clinic.trust",
    "clinic.booking",
    "clinic.visits",
    "programs.library",
    "programs.prescribing",
    "programs.following",
    "programs.portal",
    "dashboards.pages",
    # after ours, so that our templates for its pages win
    "allauth",
    "allauth.account",
    "allauth.mfa",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "clinic.people.middleware.RequestIdMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "clinic.people.middleware.SessionRulesMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "clinic.people.arriving.ArrivingMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "clinic.people.middleware.LookingMiddleware",
]

ROOT_URLCONF = "clinic.project.urls"
WSGI_APPLICATION = "clinic.project.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [ROOT / "clinic" / "project" / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "clinic.project.context.house",
            ],
        },
    },
]

DATABASES: dict[str, Any] = {
    "default": env.database(
        env.text("INTERVALE_DATABASE", "sqlite"), DATA, env.text("INTERVALE_TEST_SUFFIX")
    )
}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

REDIS_URL = env.text("INTERVALE_REDIS")
CACHES = {
    "default": (
        {"BACKEND": "clinic.project.steady_cache.SteadyCache", "LOCATION": REDIS_URL}
        if REDIS_URL
        else {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}
    )
}

# --- who signs in, and how -----------------------------------------------------------------------------------------
AUTH_USER_MODEL = "people.User"
AUTHENTICATION_BACKENDS = ["allauth.account.auth_backends.AuthenticationBackend"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 15}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "/account/login/"
LOGIN_REDIRECT_URL = "/"
ACCOUNT_USER_MODEL_USERNAME_FIELD = None
ACCOUNT_LOGIN_METHODS = {"email"}
ACCOUNT_SIGNUP_FIELDS = ["email*", "password1*"]   # without a password field the library leaves it out of sign-in too
ACCOUNT_ADAPTER = "clinic.people.signin.Adapter"
ACCOUNT_LOGIN_BY_CODE_ENABLED = True
ACCOUNT_LOGIN_BY_CODE_TIMEOUT = 600   # seconds; OWASP ASVS 5.0 v5.0.0-6.5.5: out-of-band codes live ten minutes at most
ACCOUNT_EMAIL_VERIFICATION = "none"   # the clinic enters the address; signing in by code proves it
ACCOUNT_PREVENT_ENUMERATION = True
ACCOUNT_EMAIL_SUBJECT_PREFIX = ""
ACCOUNT_LOGOUT_ON_GET = False
ACCOUNT_SESSION_REMEMBER = True
MFA_SUPPORTED_TYPES = ["totp", "webauthn", "recovery_codes"]
MFA_PASSKEY_LOGIN_ENABLED = True
MFA_WEBAUTHN_ALLOW_INSECURE_ORIGIN = not HTTPS   # browsers themselves allow http on localhost only
MFA_ADAPTER = "clinic.people.signin.SecondFactor"
MFA_TOTP_ISSUER = "Intervale"
STAFF_SECOND_FACTOR_REQUIRED = FULL   # the embedded mode is one laptop; a served clinic asks every member of staff

STEP_UP_REQUIRED = FULL   # exports and erasing ask who is there once more, where people sign in with a password
STAFF_SESSION_SECONDS = 12 * 3600            # a shift
OPENING_HOURS = 4                            # how long a record opened beyond one's caseload stays open
CLIENT_SESSION_SECONDS = 28 * 24 * 3600      # weeks, on the client's own phone
SESSION_COOKIE_AGE = CLIENT_SESSION_SECONDS
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = HTTPS
SESSION_COOKIE_NAME = "__Host-session" if HTTPS else "session"
SECURE_HSTS_SECONDS = 31_536_000 if HTTPS else 0
SECURE_CONTENT_TYPE_NOSNIFF = True
# other sites learn nothing; with no-referrer browsers send "Origin: null" and every form of ours would be refused
SECURE_REFERRER_POLICY = "same-origin"
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if env.flag("INTERVALE_BEHIND_PROXY") else None
X_FRAME_OPTIONS = "DENY"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "img-src": [SELF, "data:", "blob:"],   # data: the second-factor QR code; blob: a chart saved as a picture
        "object-src": [NONE],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
        "form-action": [SELF],
    }
}
DATA_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2000

# --- API -----------------------------------------------------------------------------------------------------------
REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": ["programs.portal.bearer.BearerToken", "clinic.people.permissions.SessionWith401"],
    "DEFAULT_PERMISSION_CLASSES": ["clinic.people.permissions.NobodyByDefault"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["clinic.people.parsers.PlainJSONParser"],
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "EXCEPTION_HANDLER": "clinic.people.apibase.problem",
    "TEST_REQUEST_DEFAULT_FORMAT": "json",
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Intervale",
    "DESCRIPTION": "Clients, visits and home programs. Errors are application/problem+json (RFC 9457).",
    "VERSION": "1",
    "OAS_VERSION": "3.1.1",
    "SCHEMA_PATH_PREFIX": "/api/v1",
    "SERVE_INCLUDE_SCHEMA": False,
    "SWAGGER_UI_DIST": "SIDECAR",
    "COMPONENT_SPLIT_REQUEST": True,
    "ENUM_NAME_OVERRIDES": {
        "AppointmentStatus": "clinic.booking.vocab.AppointmentStatus",
        "MoveState": "clinic.booking.vocab.MoveState",
        "OfferState": "clinic.booking.vocab.OfferState",
        "EpisodeStatus": "clinic.people.vocab.EpisodeStatus",
        "ProgramStatus": "programs.prescribing.vocab.ProgramStatus",
        "DoseSide": "programs.library.vocab.DoseSide",
        "BodySide": "clinic.people.vocab.BodySide",
        "ExerciseKind": "programs.library.vocab.Kind",
        "PhaseKind": "programs.prescribing.vocab.PhaseKind",
        "SuggestionKind": "programs.following.vocab.SuggestionKind",
        "ConditionCode": "clinic.people.vocab.ConditionCode",
        "Channel": "clinic.people.vocab.Channel",
    },
    "POSTPROCESSING_HOOKS": [
        "drf_spectacular.hooks.postprocess_schema_enums",
        "clinic.people.openapi.describe_errors",
    ],
}

# --- work in the background ----------------------------------------------------------------------------------------
CELERY_BROKER_URL = env.text("INTERVALE_BROKER", REDIS_URL or "filesystem://")
CELERY_TASK_ALWAYS_EAGER = not FULL and not env.flag("INTERVALE_WORKER")
LEASE_SECONDS = int(env.text("INTERVALE_LEASE_SECONDS", "120"))
TICK_SECONDS = float(env.text("INTERVALE_TICK_SECONDS", "20"))

# --- mail ----------------------------------------------------------------------------------------------------------
EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend" if FULL else "clinic.reminders.inbox.InboxBackend"
EMAIL_BACKEND = env.text("INTERVALE_EMAIL_BACKEND", EMAIL_BACKEND)
EMAIL_HOST = env.text("INTERVALE_SMTP_HOST", "127.0.0.1")
EMAIL_PORT = int(env.text("INTERVALE_SMTP_PORT", "25"))
EMAIL_HOST_USER = env.text("INTERVALE_SMTP_USER")
EMAIL_HOST_PASSWORD = env.text("INTERVALE_SMTP_PASSWORD")
EMAIL_USE_TLS = env.flag("INTERVALE_SMTP_TLS", FULL)
EMAIL_TIMEOUT = env.number("INTERVALE_SMTP_SECONDS", 20, 1, 300)   # for each step of handing a mail over
DIGEST_HOUR = env.hour("INTERVALE_DIGEST_HOUR", "7")   # by the clock of a person's site; None: no digest
DEFAULT_FROM_EMAIL = env.text("INTERVALE_FROM", "clinic@intervale.example")

# how many messages may leave by each channel in any minute, all workers together; 0: as many as go
MESSAGES_PER_MINUTE = {
    "email": env.count("INTERVALE_EMAIL_PER_MINUTE", "0"),
    "sms": env.count("INTERVALE_SMS_PER_MINUTE", "0"),
    "push": env.count("INTERVALE_PUSH_PER_MINUTE", "0"),
}

# --- text messages -------------------------------------------------------------------------------------------------
SMS_URL = env.text("INTERVALE_SMS_URL")   # without one nothing is sent as a text message
SMS_KEY = env.text("INTERVALE_SMS_KEY")
SMS_SIGNING_KEY = env.text("INTERVALE_SMS_SIGNING_KEY")
SMS_SECONDS = env.number("INTERVALE_SMS_SECONDS", 15, 1, 300)   # for the whole of handing a text over

# --- notifications on devices ---------------------------------------------------------------------------------------
PUSH_KEY = env.text("INTERVALE_PUSH_KEY")   # without one there are none
PUSH_SECONDS = env.number("INTERVALE_PUSH_SECONDS", 15, 1, 300)   # for handing one over to one device
PUSH_LOCAL = DEMO   # a push service on this machine is for demo and tests only

# --- monitoring ----------------------------------------------------------------------------------------------------
METRICS_TOKEN = env.text("INTERVALE_METRICS_TOKEN")   # without one there are no figures to be had

# --- language, time, files, logs -----------------------------------------------------------------------------------
LANGUAGE_CODE = "en-gb"
LANGUAGES = [("en", "English"), ("es", "Español")]
USE_TZ = True
TIME_ZONE = "UTC"   # instants are UTC; a day belongs to a client's or a site's zone, which the rules take as an argument
STATIC_URL = "/static/"
STATIC_ROOT = Path(env.text("INTERVALE_STATIC", str(ROOT / ".static" if FULL else DATA / "static")))
STATIC_ROOT.mkdir(parents=True, exist_ok=True)   # the file server warns when it is missing
STATICFILES_FINDERS = [
    "django.contrib.staticfiles.finders.AppDirectoriesFinder",
    "clinic.project.vendor_files.WheelFinder",
]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": (
            "whitenoise.storage.CompressedManifestStaticFilesStorage"
            if FULL and not env.flag("INTERVALE_PLAIN_STATIC")
            else "django.contrib.staticfiles.storage.StaticFilesStorage"
        )
    },
}
WHITENOISE_USE_FINDERS = not FULL
WHITENOISE_AUTOREFRESH = False

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "filters": {"request_id": {"()": "clinic.people.logs.RequestIdFilter"}},
    "formatters": {"line": {"()": "clinic.people.logs.LineFormatter"}},
    "handlers": {
        "console": {"class": "logging.StreamHandler", "formatter": "line", "filters": ["request_id"]},
        "nowhere": {"class": "logging.NullHandler"},
    },
    "root": {"handlers": ["console"], "level": env.text("INTERVALE_LOG", "WARNING")},
    "loggers": {
        # their request lines would carry the path, which may hold a sign-in link or a calendar's secret; with no handler at
        # all Python writes warnings (each 404) to stderr by itself
        "django.server": {"handlers": ["nowhere"], "propagate": False},
        "intervale": {"level": env.text("INTERVALE_LOG", "INFO")},
    },
}
os.environ.setdefault("PYTHONUTF8", "1")
