# Dewledger with its compiled code inside: the first run is as quick as the tenth.
#   docker build --build-arg UID=$(id -u) -t dewledger .
#   docker run --rm -v "$PWD:/work" dewledger run hall.toml
FROM python:3.13-slim

# Code for any processor of the family, not for the one that builds the image.
ENV NUMBA_CPU_NAME=generic \
    XDG_CACHE_HOME=/var/cache/dewledger \
    PIP_NO_CACHE_DIR=1 PIP_DISABLE_PIP_VERSION_CHECK=1 PIP_ROOT_USER_ACTION=ignore

COPY . /src
RUN pip install -c /src/.ci/tested-versions.txt /src && rm -rf /src

# Kept code is believed only in a folder of the user who runs it: build for that user with
#   --build-arg UID=$(id -u)
# Under another user nothing is kept, which the command says in one line, and it compiles each time.
ARG UID=1000
RUN useradd --uid "$UID" --create-home dewledger && install -d -o dewledger "$XDG_CACHE_HOME"
USER dewledger
RUN dewledger prepare
WORKDIR /work
ENTRYPOINT ["dewledger"]
CMD ["--help"]
