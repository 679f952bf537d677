-- What a person typed of the handwriting on a sheet.

CREATE TABLE handwriting (
    id    INTEGER PRIMARY KEY,
    sheet TEXT NOT NULL,                  -- such as K7Q4M2-0001-1
    field TEXT NOT NULL,                  -- the writing area
    text  TEXT NOT NULL,
    who   TEXT NOT NULL,
    at    TEXT NOT NULL,
    seal  BLOB,
    UNIQUE (sheet, field)
) STRICT;
