"""Django settings. Everything that differs between installations comes from the environment."""

from celery.schedules import crontab

from config.environment import (
    BASE_DIR,
    PRODUCTION,
    allowed_hosts,
    broker,
    cache,
    credential_keys,
    data_folder,
    database,
    env,
    language,
    log_level,
    mail_server,
    number,
    proxies,
    secret_key,
    site_url,
    telematics_inside,
    trusted_origins,
    truth,
)

DEMO = not PRODUCTION
SECRET_KEY = secret_key()
DEBUG = False
ALLOWED_HOSTS = allowed_hosts()
CSRF_TRUSTED_ORIGINS = trusted_origins()
CSRF_FAILURE_VIEW = "fleet.web.untrusted.refused"
SITE_URL = site_url(ALLOWED_HOSTS)

# Telematics: the keys that keep its logins, and networks asked besides the public internet.
CREDENTIAL_KEYS = credential_keys(SECRET_KEY)
TELEMATICS_INSIDE = telematics_inside()

INSTALLED_APPS = [
    "fixtures.demo",
    "notifications",
    "servicing",
    "fleet",
    "axes",
    "rest_framework",
    "django_filters",
    "drf_spectacular",
    "django_htmx",
    "django.forms",
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.contrib.humanize",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "fleet.web.headers.ContentPolicyMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "fleet.web.headers.UnkeptMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "fleet.accounts.language.BrowsersLanguageMiddleware",
    "django.middleware.common.CommonMiddleware",
    "fleet.api.bounded.BoundedBodyMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "fleet.sign_in.devices.KnownDeviceMiddleware",
    "axes.middleware.AxesMiddleware",
    "fleet.accounts.middleware.OrganisationMiddleware",
    "fleet.accounts.language.PersonsLanguageMiddleware",
]

ROOT_URLCONF = "config.urls"
WSGI_APPLICATION = "config.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "fleet.web.context.member",
            ],
        },
    },
]
FORM_RENDERER = "django.forms.renderers.TemplatesSetting"

DATABASES = {"default": database()}
CACHES = {"default": cache()}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "fleet.User"
AUTHENTICATION_BACKENDS = [
    "fleet.sign_in.backend.PasswordBackend",
    "django.contrib.auth.backends.ModelBackend",  # for who signed in before there was the one above
]
LOGIN_URL = "login"
LOGIN_REDIRECT_URL = "today"
LOGOUT_REDIRECT_URL = "login"
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
    {"NAME": "fleet.sign_in.password_rules.MaximumLengthValidator"},
]

# Guesses of passwords: counted by fleet.sign_in, carried by django-axes.
PROXIES = proxies()
LOOK_COOKIE = "__Host-hourmark-look" if PRODUCTION else "hourmark-look"
KNOWN_DEVICE_COOKIE = "__Host-hourmark-known" if PRODUCTION else "hourmark-known"
AXES_HANDLER = "fleet.sign_in.handler.SignInHandler"
AXES_CLIENT_IP_CALLABLE = "fleet.sign_in.addresses.network_of"
AXES_LOCKOUT_CALLABLE = "fleet.sign_in.waiting.too_many"
AXES_ENABLE_ADMIN = False  # its own pages would let staff in who are no operator
AXES_VERBOSE = False

LANGUAGES = [("en-gb", "English"), ("de", "Deutsch")]
LANGUAGE_CODE = language([code for code, _name in LANGUAGES])
LOCALE_PATHS = [BASE_DIR / "config" / "locale"]
FORMAT_MODULE_PATH = "config.formats"
TIME_ZONE = "UTC"
USE_I18N = True
USE_TZ = True

STATIC_URL = "static/"
STATIC_ROOT = data_folder("static")
WHITENOISE_USE_FINDERS = not PRODUCTION
MEDIA_URL = "media/"
MEDIA_ROOT = data_folder("media")
STORAGES = {
    "default": {"BACKEND": "fleet.core.photo_storage.PhotoStorage"},
    "staticfiles": {
        "BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"
        if PRODUCTION
        else "django.contrib.staticfiles.storage.StaticFilesStorage"
    },
}
LARGEST_BODY = 25 * 1024 * 1024  # of a request: the largest file that is read, and the form around it
DATA_UPLOAD_MAX_NUMBER_FIELDS = 10_000  # a list of 500 machines has some 8,000 cells and answers
FILE_UPLOAD_MAX_MEMORY_SIZE = 11 * 1024 * 1024  # a photo never needs room in a temporary folder

# Mail: a real server by EMAIL_URL; without it each message becomes a file the demo can show.
MAIL_FOLDER = data_folder("mail")
EMAIL_FILE_PATH = str(MAIL_FOLDER)
EMAIL_BACKEND = "django.core.mail.backends.filebased.EmailBackend"
globals().update(mail_server())
EMAIL_TIMEOUT = 20
DEFAULT_FROM_EMAIL = env.str("HOURMARK_MAIL_FROM", default="Hourmark <hourmark@localhost>")

# Behind TLS in production; plain on the local demo.
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_AGE = 60 * 60 * 24 * 30
MESSAGE_STORAGE = "django.contrib.messages.storage.session.SessionStorage"  # never in a cookie of their own
if PRODUCTION:
    SECURE_SSL_REDIRECT = truth("HOURMARK_SSL_REDIRECT", default=True)
    SECURE_REDIRECT_EXEMPT = [r"^health(/web)?$"]
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    SECURE_HSTS_SECONDS = 60 * 60 * 24 * 365
    SECURE_HSTS_INCLUDE_SUBDOMAINS = True
    SECURE_HSTS_PRELOAD = True
    SESSION_COOKIE_SECURE = True
    CSRF_COOKIE_SECURE = True
    # A browser takes these names over TLS alone, for this host and the whole of it (RFC 6265bis, 4.1.3.2).
    SESSION_COOKIE_NAME = "__Host-sessionid"
    CSRF_COOKIE_NAME = "__Host-csrftoken"

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "fleet.api.caller.TokenAuthentication",
        "fleet.api.caller.MemberSessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["fleet.api.caller.IsMember"],
    "DEFAULT_THROTTLE_CLASSES": ["fleet.api.throttles.SenderThrottle"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["fleet.api.json_parser.JsonParser"],
    "DEFAULT_FILTER_BACKENDS": ["django_filters.rest_framework.DjangoFilterBackend"],
    "DEFAULT_PAGINATION_CLASS": "fleet.api.pagination.Pages",
    "DEFAULT_SCHEMA_CLASS": "fleet.api.who_may.RouteSchema",
    "EXCEPTION_HANDLER": "fleet.api.problems.handle",
    "TEST_REQUEST_DEFAULT_FORMAT": "json",
    "UNAUTHENTICATED_USER": None,
}
# Of one token or member, to the API.
REQUESTS_A_MINUTE = int(number("HOURMARK_REQUESTS_A_MINUTE", 600, least=1))
SPECTACULAR_SETTINGS = {
    "TITLE": "Hourmark",
    "DESCRIPTION": "Machines, hour readings, tasks due, faults, hires and work orders.",
    "VERSION": "1",
    "SERVE_PERMISSIONS": ["rest_framework.permissions.AllowAny"],
    "SERVE_AUTHENTICATION": [],
    "SERVE_INCLUDE_SCHEMA": False,
    "SCHEMA_PATH_PREFIX": r"/api/v[0-9]",
    "COMPONENT_SPLIT_REQUEST": True,
    # several things have a state; the document gives each set of them a name of its own
    "ENUM_NAME_OVERRIDES": {
        "MachineState": "fleet.models.machine.Machine.State",
        "ReadingState": "fleet.models.meter.Reading.State",
        "OrderState": "servicing.models.workorder.WorkOrder.State",
        "LineOutcome": "servicing.models.line.Line.Outcome",
        "BookingKind": "fleet.models.calendar.Booking.Kind",
        "CheckKind": "servicing.models.check.Check.Kind",
    },
}

_broker = broker()
CELERY_BROKER_URL = _broker["url"]
CELERY_BROKER_TRANSPORT_OPTIONS = _broker["options"]
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_TASK_TIME_LIMIT = 900
CELERY_TASK_SOFT_TIME_LIMIT = 840
CELERY_TASK_PUBLISH_RETRY = False
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_TIMEZONE = "UTC"
CELERY_BEAT_SCHEDULE_FILENAME = str(data_folder("broker") / "beat-schedule")
CELERY_BEAT_SCHEDULER = "config.pulse:Scheduler"
SWEEP_SECONDS = number("HOURMARK_SWEEP_SECONDS", 60, least=0.2)
# Beat and worker that gave no sign of life for so long count as gone: three signs missed, and some patience.
SILENCE_SECONDS = number("HOURMARK_SILENCE_SECONDS", 3 * SWEEP_SECONDS + 30, least=SWEEP_SECONDS)
CELERY_BEAT_SCHEDULE = {
    "see whether work on the queue is done": {
        "task": "fleet.tasks.pulse",
        "schedule": SWEEP_SECONDS,
        "options": {"expires": CELERY_TASK_TIME_LIMIT},
    },
    "project every duty, nightly": {
        "task": "servicing.tasks.project_everything",
        "schedule": crontab(hour="2", minute="10"),
    },
    "project machines whose hours moved": {
        "task": "servicing.tasks.sweep",
        "schedule": SWEEP_SECONDS,
    },
    "forget answers whose time is over": {
        "task": "fleet.tasks.forget_answers",
        "schedule": crontab(hour="3", minute="20"),
    },
    "forget refused sign-ins": {
        "task": "fleet.tasks.forget_sign_ins",
        "schedule": crontab(hour="3", minute="25"),
    },
    "go on with files nobody works on": {
        "task": "fleet.tasks.sweep_files",
        "schedule": SWEEP_SECONDS,
    },
    "go on with program files nobody reads": {
        "task": "servicing.tasks.sweep_programs",
        "schedule": SWEEP_SECONDS,
    },
    "ask the telematics sources that are due": {
        "task": "fleet.tasks.look_for_telematics",
        "schedule": SWEEP_SECONDS,
    },
    "write the morning digests": {
        "task": "notifications.tasks.write_digests",
        "schedule": number("HOURMARK_DIGEST_SECONDS", 900, least=0.2),
    },
    "send what waits in the outbox": {
        "task": "notifications.tasks.sweep_outbox",
        "schedule": SWEEP_SECONDS,
    },
}

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"}},
    "filters": {"without secrets": {"()": "config.log_secrets.WithoutSecrets"}},
    "handlers": {
        "console": {"class": "logging.StreamHandler", "formatter": "line", "filters": ["without secrets"]}
    },
    "root": {"handlers": ["console"], "level": log_level()},
    "loggers": {
        "django.request": {"level": "ERROR"},
        "django.server": {"handlers": ["console"], "propagate": False},
    },
}
