"""Behind a proxy that ends TLS. Nothing here has an unsafe default; a missing variable stops the start."""

from deploy.settings.base import *
from deploy.settings.environment import env, names

SECRET_KEY: str = env.str("VERGLAS_SECRET_KEY")
ALLOWED_HOSTS = names("VERGLAS_ALLOWED_HOSTS")
CSRF_TRUSTED_ORIGINS = names("VERGLAS_TRUSTED_ORIGINS")

SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
SECURE_SSL_REDIRECT = True
SECURE_REDIRECT_EXEMPT = [r"^health/$"]
SECURE_HSTS_SECONDS = 365 * 24 * 3600
# Other names of the operator's domain are not ours to decide about.
SILENCED_SYSTEM_CHECKS = ["security.W005", "security.W021"]
SESSION_COOKIE_SECURE = True
CSRF_COOKIE_SECURE = True

AXES_CLIENT_IP_CALLABLE = "deploy.answers.address_behind_proxy"
