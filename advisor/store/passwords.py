"""The password of a shared store in the system's keyring; the one home of keyring, which comes with `advisor[shop]`.

It stands in no file and no log of ours, and in no name of a store. Without a keyring, or without the library, the database's
own password file counts.
"""

from __future__ import annotations

from typing import Final

from advisor.errors import StoreError

SERVICE: Final = "advisor store"


def kept(store: str) -> str | None:
    """The password that is kept for a store, by its name without any password; None where there is none."""
    try:
        import keyring
        from keyring.errors import KeyringError
    except ModuleNotFoundError:
        return None
    try:
        return keyring.get_password(SERVICE, store)
    except KeyringError:
        return None  # locked, or this computer has none


def keep(store: str, password: str | None) -> None:
    """Keeps a password for a store; None takes away the one that is kept. Raises StoreError where nothing can keep it."""
    hint = "Put it into the database's password file: PGPASSFILE, or .pgpass in your home folder."
    try:
        import keyring
        from keyring.errors import KeyringError, PasswordDeleteError
    except ModuleNotFoundError:
        raise StoreError("the library of the system's keyring is not installed", "Type: pip install 'advisor[shop]'") from None
    try:
        if password is not None:
            keyring.set_password(SERVICE, store, password)
        else:
            keyring.delete_password(SERVICE, store)
    except PasswordDeleteError:
        raise StoreError(f"no password is kept for {store}", "Nothing was changed.") from None
    except KeyringError:
        raise StoreError("this computer has no keyring that can be used", hint) from None
