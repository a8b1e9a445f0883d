"""Ports of this machine."""

import socket

from .console import Stop


def check_port(host: str, port: int) -> None:
    """Raises `Stop` when nobody could listen on this host and port."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except PermissionError:
            raise Stop(f"Port {port} is reserved; choose one from 1024 up: deploy/run --port 8000") from None
        except socket.gaierror:
            raise Stop(f"“{host}” is not an address of this machine; try --host 127.0.0.1") from None
        except OSError as problem:
            if problem.errno is not None and "in use" in str(problem):
                raise Stop(
                    f"Port {port} is already in use. Stop the program that holds it, "
                    f"or choose another: deploy/run --port {port + 1 if port < 65535 else 8000}"
                ) from None
            raise Stop(f"Nobody can listen on {host}:{port}: {problem.strerror}") from None


def free_port() -> int:
    """A port of 127.0.0.1 that nobody holds right now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def names_of_this_machine() -> list[str]:
    """Host names and addresses by which others may reach this machine."""
    name = socket.gethostname()
    try:
        found = socket.getaddrinfo(name, None)
    except socket.gaierror:
        return [name]
    return sorted({name, *(str(entry[4][0]) for entry in found)})
