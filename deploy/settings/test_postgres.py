"""The same tests on the PostgreSQL server named by VERGLAS_TEST_POSTGRES_URL."""

from deploy.settings.database import database
from deploy.settings.environment import env
from deploy.settings.test import *

DATABASES = {"default": database(env.str("VERGLAS_TEST_POSTGRES_URL")) | {"CONN_MAX_AGE": 0}}
