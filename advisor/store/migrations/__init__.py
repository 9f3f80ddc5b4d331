"""Steps from one version of the database's tables to the next, run by Alembic."""
