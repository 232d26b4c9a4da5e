"""All settings, in one file. What an operator may set is read through env.py."""

from pathlib import Path

from celery.schedules import crontab
from django.utils.csp import CSP
from kombu import Queue

from contractor import env

BASE_DIR = Path(__file__).resolve().parent.parent

DEBUG = env.boolean("DEBUG", False)
SECRET_KEY = env.text("SECRET_KEY")
BASE_URL = env.address("BASE_URL", "http://localhost:8000")  # as mails, codes and papers name it
ALLOWED_HOSTS = [
    *env.words("ALLOWED_HOSTS", "localhost,127.0.0.1,[::1]"),
    env.host_of(BASE_URL),
]
# Nothing here speaks TLS itself: an address with https has a proxy before it.
BEHIND_TLS = env.boolean("BEHIND_TLS", BASE_URL.startswith("https://"))
DATA_DIR = Path(env.text("DATA_DIR", str(BASE_DIR / "var" / "data")))
UPLOAD_MAX_MB = env.integer("UPLOAD_MAX_MB", 20)
VERSION = env.text("DRIFTBOOK_VERSION", "")
METRICS_TOKEN = env.text("METRICS_TOKEN", "")
BACKUP_DIR = env.text("BACKUP_DIR", "")
BACKUP_KEY = env.text("BACKUP_KEY", "")
BACKUP_KEEP = env.words("BACKUP_KEEP", "7,5,12")  # days, weeks, months

AREAS = [
    "programs",
    "register",
    "people",
    "labels",
    "findings",
    "readings",
    "alarms",
    "agreements",
    "power",
    "due",
    "rates",
    "visits",
    "field",
    "drift",
    "schedule",
    "planning",
    "search",
    "notices",
    "reports",
    "owners",
    "custody",
    "operations",
    "demo",
]
INSTALLED_APPS = [
    "contractor.tenancy",  # before Django's own: its migrate command runs as the owner
    "contractor.web",
    *[f"contractor.{area}" for area in AREAS],
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "servestatic.runserver_nostatic",
    "django.contrib.staticfiles",
    "django_htmx",
    "rest_framework",
    "drf_spectacular",
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "allauth.usersessions",
]
MIDDLEWARE = [
    "contractor.operations.middleware.watched",
    "contractor.web.middleware.usual_methods",
    "django.middleware.security.SecurityMiddleware",
    "contractor.web.files.StaticFiles",
    "contractor.web.middleware.PagesAreCompressed",
    "django.middleware.csp.ContentSecurityPolicyMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "contractor.web.languages.speaks",
    "contractor.web.limits.Limits",
    "contractor.web.middleware.no_store",
]
ROOT_URLCONF = "contractor.urls"
WSGI_APPLICATION = "contractor.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "builtins": [
                "django.templatetags.i18n",
                "contractor.web.templatetags.lighter",
                "contractor.web.templatetags.driftbook",
            ],
            "context_processors": [
                "django.template.context_processors.request",
                "django.template.context_processors.csp",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "contractor.web.context.chrome",
            ],
        },
    }
]
FORM_RENDERER = "django.forms.renderers.DjangoTemplates"

DATABASES = {"default": env.database("DATABASE_URL", pool={"min_size": 1, "max_size": 8})}
if env.text("DATABASE_OWNER_URL", ""):
    # Only migrations and tests hold the owner's address; web and worker never do.
    DATABASES["owner"] = env.database("DATABASE_OWNER_URL")
    DATABASES["default"]["TEST"] = {"MIRROR": "owner"}
    DATABASES["owner"]["TEST"] = {"NAME": env.text("TEST_DATABASE_NAME", "test_contractor")}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

BROKER_URL, CACHE_URL = env.valkey("REDIS_URL")
CACHES = {
    "default": {
        "BACKEND": "django.core.cache.backends.redis.RedisCache",
        "LOCATION": CACHE_URL,
        "KEY_PREFIX": "driftbook",
    }
}

# Accounts: sign-up is closed; a member or an owner is invited.
AUTH_USER_MODEL = "tenancy.User"
AUTHENTICATION_BACKENDS = ["allauth.account.auth_backends.AuthenticationBackend"]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 12},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "contractor.tenancy.passwords.NotOfThisPlace"},
]
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "account_login"
ACCOUNT_ADAPTER = "contractor.tenancy.accounts.ClosedDoor"
ACCOUNT_USER_MODEL_USERNAME_FIELD = None
ACCOUNT_LOGIN_METHODS = {"email"}
ACCOUNT_SIGNUP_FIELDS = ["email*", "password1*"]
ACCOUNT_EMAIL_VERIFICATION = "none"
ACCOUNT_PREVENT_ENUMERATION = True
ACCOUNT_RATE_LIMITS = {"login": "60/m/ip", "login_failed": "10/m/ip,5/5m/key"}
ALLAUTH_TRUSTED_PROXY_COUNT = 1 if BEHIND_TLS else 0
ACCOUNT_SESSION_REMEMBER = True
ACCOUNT_LOGOUT_ON_GET = False
ACCOUNT_REAUTHENTICATION_TIMEOUT = 900
MFA_ADAPTER = "contractor.tenancy.accounts.SealedFactors"
MFA_SUPPORTED_TYPES = ["totp", "webauthn", "recovery_codes"]
MFA_PASSKEY_LOGIN_ENABLED = True
MFA_ALLOW_UNVERIFIED_EMAIL = True  # a seat comes by invitation to the address
MFA_TOTP_ISSUER = "Driftbook"
MFA_TOTP_TOLERANCE = 1
MFA_WEBAUTHN_ALLOW_INSECURE_ORIGIN = not BEHIND_TLS  # browsers allow it at localhost only

SESSION_COOKIE_AGE = 14 * 24 * 3600
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_SAMESITE = "Lax"
CSRF_TRUSTED_ORIGINS = [BASE_URL]
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = BEHIND_TLS
SECURE_HSTS_SECONDS = 31_536_000 if BEHIND_TLS else 0
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if BEHIND_TLS else None
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
SECURE_CSP = {
    "default-src": [CSP.NONE],
    "script-src": [CSP.SELF, CSP.NONCE],
    "style-src": [CSP.SELF],
    "img-src": [CSP.SELF, "data:", "blob:"],
    "font-src": [CSP.SELF],
    "connect-src": [CSP.SELF],
    "manifest-src": [CSP.SELF],
    "worker-src": [CSP.SELF],
    "form-action": [CSP.SELF],
    "base-uri": [CSP.NONE],
    "frame-ancestors": [CSP.NONE],
    "object-src": [CSP.NONE],
}

LANGUAGE_CODE = "en"
LANGUAGES = [  # each named in itself; docs/languages.md says how one more is added
    ("en", "English (US)"),
    ("en-gb", "English (UK)"),
    ("fr-ca", "Français (Canada)"),
    ("es", "Español"),
    ("de", "Deutsch"),
]
LOCALE_PATHS = [BASE_DIR / "locale"]
LANGUAGE_COOKIE_NAME = "language"
LANGUAGE_COOKIE_AGE = 365 * 24 * 3600
LANGUAGE_COOKIE_SECURE = BEHIND_TLS
FORMAT_MODULE_PATH = ["contractor.web.formats"]
USE_I18N = True
USE_TZ = True
TIME_ZONE = "UTC"
DATETIME_FORMAT = "j M Y, H:i"
DATE_FORMAT = "j M Y"

STATIC_URL = "static/"
STATIC_ROOT = Path(env.text("STATIC_ROOT", str(BASE_DIR / "static-built")))
STATICFILES_DIRS = [BASE_DIR / "static"]
STORAGES = {
    "default": {
        "BACKEND": "django.core.files.storage.FileSystemStorage",
        "OPTIONS": {"location": DATA_DIR / "files"},
    },
    "staticfiles": {
        "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"
        if DEBUG
        else "servestatic.storage.CompressedManifestStaticFilesStorage"
    },
}
SERVESTATIC_ALLOW_ALL_ORIGINS = False
FILE_UPLOAD_MAX_MEMORY_SIZE = 5 * 2**20
DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 2**20
DATA_UPLOAD_MAX_NUMBER_FIELDS = 5_000  # a building's devices, ticked one by one

MAILERS = {"default": env.mail("EMAIL_URL", "console://")}
DEFAULT_FROM_EMAIL = env.text("MAIL_FROM", "driftbook@localhost")
INTAKE_MAILBOX = env.mailbox("INTAKE_MAIL_URL")
INTAKE_ADDRESS = env.text("INTAKE_ADDRESS", "")
INTAKE_PER_HOUR = env.integer("INTAKE_PER_HOUR", 60)

CELERY_BROKER_URL = BROKER_URL
CELERY_BROKER_TRANSPORT_OPTIONS = {"visibility_timeout": 3600, "unacked_restore_throttle": 1}
# A worker that names no queue reads both.
CELERY_TASK_QUEUES = (Queue("celery", routing_key="celery"), Queue("nights", routing_key="nights"))
CELERY_TASK_ROUTES = {
    "due.night_of_firm": {"queue": "nights"},
    "drift.sweep_firm": {"queue": "nights"},
}
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_TASK_IGNORE_RESULT = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_TIMEZONE = "UTC"
CELERY_BEAT_SCHEDULE = {
    "sign": {"task": "operations.sign", "schedule": 60.0},
    "sweep-jobs": {"task": "tenancy.sweep_jobs", "schedule": 60.0},
    "readings-mail": {"task": "readings.fetch_mail", "schedule": 120.0},
    "field-tick": {"task": "field.tick", "schedule": 60.0},
    "due-hour": {"task": "due.hour", "schedule": crontab(minute="4")},
    "due-night": {"task": "due.night", "schedule": crontab(hour="2", minute="10")},
    "notices-tick": {"task": "notices.tick", "schedule": 60.0},
    "notices-hour": {"task": "notices.hour", "schedule": crontab(minute="2")},
    "programs-tick": {"task": "programs.tick", "schedule": 60.0},
    "programs-night": {"task": "programs.night", "schedule": crontab(hour="3", minute="20")},
    "chain-heads": {
        "task": "reports.mail_heads",
        "schedule": crontab(hour="6", minute="0", day_of_week="mon"),
    },
    "drift-night": {"task": "drift.night", "schedule": crontab(hour="2", minute="40")},
}

# How far workers step back behind web processes of the same machine, as nice(1) counts.
WORKER_NICE = env.integer("WORKER_NICE", 10)
# How many times as long as it worked a night rests, piece by piece.
NIGHT_REST = env.integer("NIGHT_REST", 9)

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "contractor.programs.authentication.TokenAuthentication",
        "rest_framework.authentication.SessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "EXCEPTION_HANDLER": "contractor.web.api.one_error_shape",
    "UNAUTHENTICATED_USER": None,
    "DEFAULT_SCHEMA_CLASS": "contractor.programs.schema.Described",
}
API_PER_MINUTE = env.integer("API_PER_MINUTE", 300)
HOOK_NETWORKS = env.words("HOOK_NETWORKS", "")
SPECTACULAR_SETTINGS = {
    "TITLE": "Driftbook API",
    "VERSION": "1",
    "OAS_VERSION": "3.1.1",
    "SCHEMA_PATH_PREFIX": "/api/v1/f/{firm}",
    "PREPROCESSING_HOOKS": ["contractor.programs.schema.only_ours"],
    "POSTPROCESSING_HOOKS": ["contractor.programs.schema.with_shapes"],
    "SERVE_PUBLIC": True,
    "ENABLE_DJANGO_DEPLOY_CHECK": False,
}

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {
        "lines": {
            "()": "contractor.operations.logs.Lines",
            "plain": env.text("LOG_FORM", "plain") != "json",
            "secrets": [
                SECRET_KEY,
                BACKUP_KEY,
                METRICS_TOKEN,
                *(str(each.get("PASSWORD", "")) for each in DATABASES.values()),
            ],
        }
    },
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "lines"}},
    "root": {"handlers": ["console"], "level": env.text("LOG_LEVEL", "INFO")},
    "loggers": {
        "fontTools": {"level": "WARNING"},
        "weasyprint": {"level": "ERROR"},
        # Said by our own line, which leaves the question out of the address.
        "django.request": {"level": "ERROR"},
    },
}
