"""What every installation shares. The parts lie beside this file, one concern each."""

from deploy.settings.api import *
from deploy.settings.database import *
from deploy.settings.environment import *
from deploy.settings.journal import *
from deploy.settings.mail import *
from deploy.settings.pages import *
from deploy.settings.queue import *
from deploy.settings.security import *

DEBUG = False
ROOT_URLCONF = "deploy.urls"
WSGI_APPLICATION = "deploy.wsgi.application"

INSTALLED_APPS = [
    "fleet.apps.FleetConfig",
    "scheduling.apps.SchedulingConfig",
    "records.apps.RecordsConfig",
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "rest_framework",
    "drf_spectacular",
    "axes",
    "csp",
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
    "fleet.middleware.RefusalMiddleware",
    "axes.middleware.AxesMiddleware",
]
