"""The one settings file. What differs between machines comes from the environment; see README, Settings."""

from datetime import timedelta
from pathlib import Path

import dj_database_url
from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured

from provider.config.env import env_bool, env_choice, env_hosts, env_int, env_path, env_str, env_url
from provider.config.secret_key import stored_secret_key

BASE_DIR = Path(__file__).resolve().parent.parent.parent
DATA_DIR = env_path("DATA_DIR", default=BASE_DIR / ".data")
DATA_DIR.mkdir(mode=0o700, parents=True, exist_ok=True)

DEBUG = env_bool("DEBUG", default=False)
SECRET_KEY = env_str("SECRET_KEY") or stored_secret_key(DATA_DIR / "secret_key")

# --- Address and transport -------------------------------------------------------------------------------------------

PUBLIC_URL = env_url("PUBLIC_URL")
HTTPS = PUBLIC_URL is not None and PUBLIC_URL.scheme == "https"

ALLOWED_HOSTS = ["localhost", "127.0.0.1", "[::1]", *env_hosts("ALLOWED_HOSTS")]
CSRF_TRUSTED_ORIGINS: list[str] = []
if PUBLIC_URL is not None:
    host = PUBLIC_URL.hostname or ""
    ALLOWED_HOSTS.append(f"[{host}]" if ":" in host else host)
    CSRF_TRUSTED_ORIGINS.append(f"{PUBLIC_URL.scheme}://{PUBLIC_URL.netloc}")

SECURE_SSL_REDIRECT = HTTPS
SECURE_REDIRECT_EXEMPT = [r"^health/$"]
SECURE_HSTS_SECONDS = env_int("HSTS_SECONDS", default=31_536_000 if HTTPS else 0, minimum=0, maximum=63_072_000)
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = HTTPS
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = LANGUAGE_COOKIE_SECURE = HTTPS
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = LANGUAGE_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_HTTPONLY = LANGUAGE_COOKIE_HTTPONLY = True
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"

# Only a proxy that overwrites both headers may be trusted, so it is never assumed.
BEHIND_PROXY = env_bool("BEHIND_PROXY", default=False)
if BEHIND_PROXY:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF],
        "font-src": [SELF],
        "connect-src": [SELF],
        "manifest-src": [SELF],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
        "base-uri": [NONE],
        "object-src": [NONE],
    }
}

# --- Applications ----------------------------------------------------------------------------------------------------

INSTALLED_APPS = [
    # Ours first, so that our templates win over those of django.forms and django_tables2.
    "provider.apps.ProviderConfig",
    "curriculum.apps.CurriculumConfig",
    "billing.apps.BillingConfig",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.forms",
    "django_filters",
    "django_htmx",
    "django_tables2",
    "django_tasks",
    "django_tasks_db",
    "axes",
    "csp",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "provider.middleware.door_lock",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "provider.config.plain_text.RefuseNul",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "axes.middleware.AxesMiddleware",  # last: it turns a locked-out sign-in into its answer
]

ROOT_URLCONF = "provider.config.urls"
WSGI_APPLICATION = "provider.config.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.template.context_processors.i18n",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "provider.context.desk",
            ],
        },
    },
]
DJANGO_TABLES2_TEMPLATE = "django_tables2/playroom.html"
FORM_RENDERER = "django.forms.renderers.TemplatesSetting"
MESSAGE_STORAGE = "django.contrib.messages.storage.session.SessionStorage"

# --- Data ------------------------------------------------------------------------------------------------------------

DATABASE_URL = env_str("DATABASE_URL")
if DATABASE_URL:
    if not DATABASE_URL.startswith(("postgres://", "postgresql://")):
        raise ImproperlyConfigured("DATABASE_URL must begin with postgres:// (leave it out to use SQLite in DATA_DIR).")
    DATABASES = {"default": dj_database_url.parse(DATABASE_URL, conn_max_age=60, conn_health_checks=True)}
else:
    DATABASES = {
        "default": {
            "ENGINE": "django.db.backends.sqlite3",
            "NAME": str(DATA_DIR / "db.sqlite3"),
            "OPTIONS": {
                # The write lock is taken at BEGIN: a deferred one fails at once when two writers meet half-way.
                "transaction_mode": "IMMEDIATE",
                "timeout": 20,
                "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL; PRAGMA foreign_keys=ON",
            },
        }
    }
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

STATIC_URL = "static/"
STATIC_ROOT = DATA_DIR / "static"
MEDIA_ROOT = DATA_DIR / "media"  # read only through views that check who asks; no URL leads into it
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}
FILE_UPLOAD_PERMISSIONS = 0o600
FILE_UPLOAD_DIRECTORY_PERMISSIONS = 0o700
DATA_UPLOAD_MAX_MEMORY_SIZE = 2_621_440  # bytes of a form without its files
DATA_UPLOAD_MAX_NUMBER_FIELDS = 5_000  # a long store receipt has about ten fields a line
DATA_UPLOAD_MAX_NUMBER_FILES = 20

TASKS = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend"}}

# --- People ----------------------------------------------------------------------------------------------------------

AUTH_USER_MODEL = "provider.User"
AUTHENTICATION_BACKENDS = ["axes.backends.AxesStandaloneBackend", "django.contrib.auth.backends.ModelBackend"]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
]
LOGIN_URL = "provider:sign_in"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = LOGIN_URL

AXES_FAILURE_LIMIT = 8
AXES_COOLOFF_TIME = timedelta(minutes=15)
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_LOCKOUT_CALLABLE = "provider.views.access.locked_out"
AXES_RESET_ON_SUCCESS = True
# A try during the wait must not lengthen it: a family at the door would never get in.
AXES_RESET_COOL_OFF_ON_FAILURE_DURING_LOCKOUT = False
AXES_CLIENT_IP_CALLABLE = "provider.config.client_address.client_address"
AXES_DISABLE_ACCESS_LOG = True
AXES_VERBOSE = False  # its log lines would name people

# --- Language and time -----------------------------------------------------------------------------------------------

LANGUAGE_CODE = "en"
LANGUAGES = [("en", "English"), ("fr", "Français"), ("es", "Español")]
USE_TZ = True
TIME_ZONE = "UTC"  # each provider has its own; see provider.clock

# --- Mail ------------------------------------------------------------------------------------------------------------

EMAIL_HOST = env_str("EMAIL_HOST")
EMAIL_BACKEND = f"django.core.mail.backends.{'smtp' if EMAIL_HOST else 'console'}.EmailBackend"
EMAIL_SECURITY = env_choice("EMAIL_SECURITY", {"starttls", "tls", "none"}, default="starttls")
EMAIL_USE_TLS = EMAIL_SECURITY == "starttls"
EMAIL_USE_SSL = EMAIL_SECURITY == "tls"
EMAIL_PORT = env_int("EMAIL_PORT", default=465 if EMAIL_USE_SSL else 587, minimum=1, maximum=65_535)
EMAIL_HOST_USER = env_str("EMAIL_USER")
EMAIL_HOST_PASSWORD = env_str("EMAIL_PASSWORD")
EMAIL_TIMEOUT = 20  # seconds
DEFAULT_FROM_EMAIL = SERVER_EMAIL = env_str("EMAIL_FROM", "books@localhost")

# --- Log -------------------------------------------------------------------------------------------------------------

LOG_LEVEL = env_choice("LOG_LEVEL", {"DEBUG", "INFO", "WARNING", "ERROR"}, default="WARNING")
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"}},
    "handlers": {
        "stderr": {"class": "logging.StreamHandler", "formatter": "line", "level": LOG_LEVEL},
        "stderr_errors": {"class": "logging.StreamHandler", "formatter": "line", "level": "ERROR"},
    },
    "root": {"handlers": ["stderr"], "level": "WARNING"},
    "loggers": {
        # Our own lines carry ids and counts, never names.
        "provider": {"level": "DEBUG"},
        "curriculum": {"level": "DEBUG"},
        "billing": {"level": "DEBUG"},
        "django": {"handlers": ["stderr"], "level": "WARNING", "propagate": False},
        "django.security.DisallowedHost": {"level": "CRITICAL"},
        "django_tasks_db": {"handlers": ["stderr_errors"], "propagate": False},  # it warns of every ordinary stop
        "axes": {"level": "ERROR"},
    },
}
