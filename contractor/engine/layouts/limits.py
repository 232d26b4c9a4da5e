"""Say how large a print-out may be before reading it is refused."""

MAX_FILE_BYTES = 20 * 2**20
MAX_UNPACKED_BYTES = 128 * 2**20
MAX_UNPACKED_RATIO = 250  # a plain sheet of readings packs 10 to 40 to one
RATIO_MATTERS_FROM_BYTES = (
    4 * 2**20
)  # tiny members of repeated text pack harder than that, harmlessly
MAX_MEMBERS = 2_000
MAX_ROWS = 50_000
MAX_LINES = 400_000  # a paragraph or a page may take several lines per row
MAX_COLUMNS = 256
MAX_LINE_CHARACTERS = 20_000
MAX_SHEETS = 200

CPU_SECONDS = 60
ADDRESS_SPACE_BYTES = 512 * 2**20  # above what the reading process holds when it starts
WALL_SECONDS = 90  # a process that sleeps uses no CPU time, so the parent also keeps a clock
