@rem What `exec` is to a POSIX shell: package.json uses it so that npm and the program it starts have no shell between them.
@%*
