"""What is wrong with each file of `data/broken/histories`, as its reader is told."""

BROKEN_HISTORIES = {
    "broken_quotes.csv": "line 2: not CSV (field larger than field limit (131072))",
    "cut_off.csv.gz": "not a whole gzip file",
    "empty.csv": "empty; needed are the columns entity_id,state,last_changed",
    "header_alone.csv": "entity_id: no row is of one of the boat's sensors",
    "naive_time.csv": "line 3, last_changed: '2026-05-11T07:30:02' has no time zone;",
    "no_gzip.csv.gz": "not a gzip file, though its name ends in .gz",
    "no_header.csv": "entity_id: no such column in 'sensor.inverter_output,120,2026-",
    "no_text.csv": "not UTF-8 text",
    "other_sensors.csv": "entity_id: no row is of one of the boat's sensors (sensor.",
    "semicolons.csv": "entity_id: no such column in 'entity_id;state;last_changed'",
    "short_row.csv": "line 3: 2 columns, needed are entity_id,state,last_changed",
    "no_such_year.csv": "line 3, last_changed: '9999-12-31T23:59:59-12:00' is not of a year",
    "unix_time.csv": "line 2, last_changed: '1778484600' is not an ISO time such as",
    "unreadable_time.csv": "line 3, last_changed: 'half past seven' is not an ISO time",
    "wrong_columns.csv": "state: no such column in 'entity_id,value,last_changed';",
}
