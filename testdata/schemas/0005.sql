PRAGMA application_id = 1279872343;
CREATE TABLE goose_db_version (
		id INTEGER PRIMARY KEY AUTOINCREMENT,
		version_id INTEGER NOT NULL,
		is_applied INTEGER NOT NULL,
		tstamp TIMESTAMP DEFAULT (datetime('now'))
	);
CREATE TABLE operations (
    id      INTEGER PRIMARY KEY AUTOINCREMENT,
    uuid    BLOB    NOT NULL UNIQUE CHECK (length(uuid) = 16),
    act     TEXT    NOT NULL CHECK (act IN ('done', 'undone', 'redone')),
    of_id   INTEGER REFERENCES operations (id), -- what was undone or redone
    origin  TEXT    NOT NULL CHECK (origin = 'terminal' OR origin LIKE 'desk:_%'),
    title   TEXT    NOT NULL,
    at_utc  TEXT    NOT NULL CHECK (at_utc IS strftime('%Y-%m-%dT%H:%M:%fZ', at_utc)),
    changes BLOB,   -- deflated JSON: the ids inserted, the rows changed as they were and are
    CHECK ((act = 'done') = (of_id IS NULL) AND (act = 'done') = (changes IS NOT NULL))
) STRICT;
CREATE TABLE observers (
    id           INTEGER PRIMARY KEY AUTOINCREMENT,
    uuid         BLOB    NOT NULL UNIQUE CHECK (length(uuid) = 16),
    revision     INTEGER NOT NULL CHECK (revision >= 1),
    operation_id INTEGER NOT NULL,
    removed      INTEGER NOT NULL DEFAULT 0 CHECK (removed IN (0, 1)),
    name         TEXT    NOT NULL CHECK (name <> ''),
    code         TEXT    NOT NULL DEFAULT '', -- as a club knows the observer
    is_default   INTEGER NOT NULL DEFAULT 0 CHECK (is_default IN (0, 1)), -- meant when none is named
    note         TEXT    NOT NULL DEFAULT ''
) STRICT;
CREATE TABLE sites (
    id           INTEGER PRIMARY KEY AUTOINCREMENT,
    uuid         BLOB    NOT NULL UNIQUE CHECK (length(uuid) = 16),
    revision     INTEGER NOT NULL CHECK (revision >= 1),
    operation_id INTEGER NOT NULL,
    removed      INTEGER NOT NULL DEFAULT 0 CHECK (removed IN (0, 1)),
    name         TEXT    NOT NULL CHECK (name <> ''),
    lat_deg      REAL    NOT NULL CHECK (lat_deg BETWEEN -90 AND 90),   -- geographic, north positive
    lon_deg      REAL    NOT NULL CHECK (lon_deg BETWEEN -180 AND 180), -- east positive
    elevation_m  REAL    NOT NULL DEFAULT 0,
    zone         TEXT    NOT NULL DEFAULT '', -- IANA name
    is_default   INTEGER NOT NULL DEFAULT 0 CHECK (is_default IN (0, 1)),
    note         TEXT    NOT NULL DEFAULT ''
) STRICT;
CREATE TABLE instruments (
    id           INTEGER PRIMARY KEY AUTOINCREMENT,
    uuid         BLOB    NOT NULL UNIQUE CHECK (length(uuid) = 16),
    revision     INTEGER NOT NULL CHECK (revision >= 1),
    operation_id INTEGER NOT NULL,
    removed      INTEGER NOT NULL DEFAULT 0 CHECK (removed IN (0, 1)),
    name         TEXT    NOT NULL CHECK (name <> ''),
    aperture_mm  REAL    CHECK (aperture_mm > 0),
    focal_mm     REAL    CHECK (focal_mm > 0),
    note         TEXT    NOT NULL DEFAULT ''
) STRICT;
CREATE TABLE setups (
    id               INTEGER PRIMARY KEY AUTOINCREMENT,
    uuid             BLOB    NOT NULL UNIQUE CHECK (length(uuid) = 16),
    revision         INTEGER NOT NULL CHECK (revision >= 1),
    operation_id     INTEGER NOT NULL,
    removed          INTEGER NOT NULL DEFAULT 0 CHECK (removed IN (0, 1)),
    instrument_id    INTEGER NOT NULL REFERENCES instruments (id),
    name             TEXT    NOT NULL CHECK (name <> ''),
    wavelength_a     REAL    CHECK (wavelength_a > 0), -- angstrom
    passband_a       REAL    CHECK (passband_a > 0),   -- angstrom
    stacked          INTEGER CHECK (stacked > 0),      -- narrow-band filters behind one another
    reflections      INTEGER CHECK (reflections >= 0), -- an odd number mirrors the picture
    pixel_um         REAL    CHECK (pixel_um > 0),     -- binning counted in
    width_px         INTEGER CHECK (width_px > 0),
    height_px        INTEGER CHECK (height_px > 0),
    surface_mm       REAL,   -- height of the limb that its surface exposures show, once measured
    surface_sigma_mm REAL    CHECK (surface_sigma_mm >= 0),
    edge_mm          REAL,   -- the same for its limb exposures
    edge_sigma_mm    REAL    CHECK (edge_sigma_mm >= 0),
    is_default       INTEGER NOT NULL DEFAULT 0 CHECK (is_default IN (0, 1)),
    note             TEXT    NOT NULL DEFAULT '',
    CHECK ((surface_mm IS NULL) = (surface_sigma_mm IS NULL) AND (edge_mm IS NULL) = (edge_sigma_mm IS NULL))
) STRICT;
CREATE TABLE sittings (
    id                 INTEGER PRIMARY KEY AUTOINCREMENT,
    uuid               BLOB    NOT NULL UNIQUE CHECK (length(uuid) = 16),
    revision           INTEGER NOT NULL CHECK (revision >= 1),
    operation_id       INTEGER NOT NULL,
    removed            INTEGER NOT NULL DEFAULT 0 CHECK (removed IN (0, 1)),
    observer_id        INTEGER REFERENCES observers (id),
    setup_id           INTEGER REFERENCES setups (id),
    site_id            INTEGER REFERENCES sites (id),
    day                TEXT    NOT NULL CHECK (day IS date(day)), -- UT day of its first frame
    -- what was looked for: 'looked' (and the marks are what was seen), 'none' (and none seen);
    -- NULL says that nothing is known of the kind
    sunspots           TEXT    CHECK (sunspots IN ('looked', 'none')),
    plages             TEXT    CHECK (plages IN ('looked', 'none')),
    filaments          TEXT    CHECK (filaments IN ('looked', 'none')),
    prominences        TEXT    CHECK (prominences IN ('looked', 'none')),
    seeing             TEXT,
    seeing_scale       TEXT,   -- scales run in both directions: no value without its scale
    transparency       TEXT,
    transparency_scale TEXT,
    clock_correction_s REAL    NOT NULL DEFAULT 0 CHECK (abs(clock_correction_s) <= 604800), -- add to camera time
    tuning             TEXT    NOT NULL DEFAULT '',
    note               TEXT    NOT NULL DEFAULT '',
    CHECK ((seeing IS NULL) = (seeing_scale IS NULL) AND (transparency IS NULL) = (transparency_scale IS NULL))
) STRICT;
CREATE TABLE frames (
    id           INTEGER PRIMARY KEY AUTOINCREMENT,
    uuid         BLOB    NOT NULL UNIQUE CHECK (length(uuid) = 16),
    revision     INTEGER NOT NULL CHECK (revision >= 1),
    operation_id INTEGER NOT NULL,
    removed      INTEGER NOT NULL DEFAULT 0 CHECK (removed IN (0, 1)),
    sitting_id   INTEGER REFERENCES sittings (id),
    path         TEXT,   -- as last seen; the file is known again by its SHA-256
    sha256       TEXT    CHECK (length(sha256) = 64 AND sha256 NOT GLOB '*[^0-9a-f]*'),
    channel      TEXT    NOT NULL DEFAULT '',
    role         TEXT    CHECK (role IN ('surface', 'limb', 'both')),
    taken_utc    TEXT    NOT NULL CHECK (taken_utc IS strftime('%Y-%m-%dT%H:%M:%fZ', taken_utc)),
    moment       TEXT    CHECK (moment IN ('start', 'middle', 'end')), -- of the exposure
    exposure_s   REAL    CHECK (exposure_s > 0),
    sigma_s      REAL    CHECK (sigma_s > 0),
    time_source  TEXT    NOT NULL DEFAULT '',
    zone         TEXT    NOT NULL DEFAULT '', -- how the time was brought to UTC
    width_px     INTEGER CHECK (width_px > 0),
    height_px    INTEGER CHECK (height_px > 0),
    reference    INTEGER NOT NULL DEFAULT 0 CHECK (reference IN (0, 1)), -- from elsewhere, for north only
    note         TEXT    NOT NULL DEFAULT '',
    middle_utc   TEXT    NOT NULL CHECK (middle_utc IS strftime('%Y-%m-%dT%H:%M:%fZ', middle_utc)), -- derived
    CHECK ((path IS NULL) = (sha256 IS NULL) AND (path IS NULL) = (width_px IS NULL) AND (path IS NULL) = (height_px IS NULL))
) STRICT;
CREATE TABLE discs (
    id             INTEGER PRIMARY KEY AUTOINCREMENT,
    uuid           BLOB    NOT NULL UNIQUE CHECK (length(uuid) = 16),
    revision       INTEGER NOT NULL CHECK (revision >= 1),
    operation_id   INTEGER NOT NULL,
    removed        INTEGER NOT NULL DEFAULT 0 CHECK (removed IN (0, 1)),
    frame_id       INTEGER NOT NULL REFERENCES frames (id),
    x_px           REAL    NOT NULL, -- of the centre
    y_px           REAL    NOT NULL,
    radius_px      REAL    NOT NULL CHECK (radius_px > 0), -- long semi-axis
    flattening     REAL    NOT NULL DEFAULT 0 CHECK (flattening >= 0 AND flattening < 1),
    short_axis_deg REAL    NOT NULL DEFAULT 0, -- counter-clockwise from up
    cov_xx         REAL    NOT NULL CHECK (cov_xx >= 0), -- square px, as all six
    cov_yy         REAL    NOT NULL CHECK (cov_yy >= 0),
    cov_rr         REAL    NOT NULL CHECK (cov_rr >= 0),
    cov_xy         REAL    NOT NULL,
    cov_xr         REAL    NOT NULL,
    cov_yr         REAL    NOT NULL,
    layer_mm       REAL    NOT NULL, -- height of this limb above the photosphere
    layer_sigma_mm REAL    NOT NULL CHECK (layer_sigma_mm >= 0),
    layer_from     TEXT    NOT NULL CHECK (layer_from IN ('named', 'prior', 'measured', 'header')),
    method         TEXT    NOT NULL CHECK (method IN ('fitted', 'points', 'typed', 'header')),
    rms_px         REAL    CHECK (rms_px >= 0),
    width_px       REAL    CHECK (width_px > 0), -- of the edge
    arc_deg        REAL    CHECK (arc_deg > 0 AND arc_deg <= 360),
    points         INTEGER CHECK (points > 0),
    rejected       INTEGER CHECK (rejected > 0),
    accepted       INTEGER NOT NULL DEFAULT 0 CHECK (accepted IN (0, 1)), -- by the observer's eye
    note           TEXT    NOT NULL DEFAULT ''
) STRICT;
CREATE TABLE norths (
    id            INTEGER PRIMARY KEY AUTOINCREMENT,
    uuid          BLOB    NOT NULL UNIQUE CHECK (length(uuid) = 16),
    revision      INTEGER NOT NULL CHECK (revision >= 1),
    operation_id  INTEGER NOT NULL,
    removed       INTEGER NOT NULL DEFAULT 0 CHECK (removed IN (0, 1)),
    frame_id      INTEGER NOT NULL REFERENCES frames (id),
    angle_deg     REAL    NOT NULL CHECK (angle_deg BETWEEN -360 AND 360), -- counter-clockwise from up
    toward        TEXT    NOT NULL CHECK (toward IN ('celestial', 'solar', 'zenith')),
    mirrored      INTEGER NOT NULL CHECK (mirrored IN (0, 1)), -- east lies clockwise of north
    sigma_deg     REAL    NOT NULL CHECK (sigma_deg > 0 AND sigma_deg <= 180),
    method        TEXT    NOT NULL CHECK (method <> ''),
    parity_odds   REAL    CHECK (parity_odds BETWEEN 0.5 AND 1),
    from_frame_id INTEGER REFERENCES frames (id), -- from which it was taken over
    note          TEXT    NOT NULL DEFAULT ''
, lasting_deg REAL CHECK (abs(lasting_deg) <= sigma_deg)) STRICT;
CREATE TABLE marks (
    id                  INTEGER PRIMARY KEY AUTOINCREMENT,
    uuid                BLOB    NOT NULL UNIQUE CHECK (length(uuid) = 16),
    revision            INTEGER NOT NULL CHECK (revision >= 1),
    operation_id        INTEGER NOT NULL,
    removed             INTEGER NOT NULL DEFAULT 0 CHECK (removed IN (0, 1)),
    frame_id            INTEGER NOT NULL REFERENCES frames (id),
    kind                TEXT    NOT NULL CHECK (kind IN ('sunspot', 'plage', 'filament', 'prominence', 'other')),
    shape               TEXT    NOT NULL CHECK (shape IN ('point', 'line', 'outline')),
    form                TEXT    NOT NULL CHECK (form IN ('pixels', 'polar', 'carrington', 'cmd')),
    vertices            TEXT    NOT NULL, -- JSON: [[x,y],…] px, [[pa,r],…] or [[lat,lon],…] degrees
    sigma_click_px      REAL    CHECK (sigma_click_px > 0),
    polar_limb_mm       REAL,   -- height of the limb in whose radii r counts
    polar_limb_sigma_mm REAL    CHECK (polar_limb_sigma_mm >= 0),
    sigma_r             REAL    CHECK (sigma_r > 0),
    sigma_pa_deg        REAL    CHECK (sigma_pa_deg > 0),
    sigma_place_deg     REAL    CHECK (sigma_place_deg > 0),
    height_mm           REAL,   -- above the photosphere, as given by the observer
    height_sigma_mm     REAL    CHECK (height_sigma_mm >= 0),
    extent              TEXT    CHECK (extent IN ('group', 'single')),
    spots               INTEGER CHECK (spots > 0),
    label               TEXT    NOT NULL DEFAULT '',
    aliases             TEXT    CHECK (aliases IS NULL OR json_valid(aliases)), -- ["…"]
    note                TEXT    NOT NULL DEFAULT '',
    observer_id         INTEGER REFERENCES observers (id),
    marked_utc          TEXT    NOT NULL CHECK (marked_utc IS strftime('%Y-%m-%dT%H:%M:%fZ', marked_utc)),
    same_as_id          INTEGER REFERENCES marks (id), -- the observer's word: the same thing as that mark
    CHECK (CASE shape WHEN 'point' THEN json_array_length(vertices) = 1
           WHEN 'line' THEN json_array_length(vertices) >= 2 ELSE json_array_length(vertices) >= 3 END),
    CHECK ((form = 'pixels') = (sigma_click_px IS NOT NULL)),
    CHECK ((form = 'polar') = (polar_limb_mm IS NOT NULL) AND (polar_limb_mm IS NULL) = (polar_limb_sigma_mm IS NULL)),
    CHECK ((height_mm IS NULL) = (height_sigma_mm IS NULL)),
    CHECK (kind = 'sunspot' OR (extent IS NULL AND spots IS NULL))
) STRICT;
CREATE TABLE positions (
    mark_id          INTEGER PRIMARY KEY REFERENCES marks (id),
    utc              TEXT NOT NULL, -- the instant used
    reason           TEXT NOT NULL DEFAULT '', -- why there is none
    pa_deg           REAL, -- position angle from celestial north through east
    r                REAL, -- radii of the frame's limb
    near_limb        INTEGER NOT NULL CHECK (near_limb IN (0, 1)), -- too near to tell the side
    -- on the disc, as on the photosphere
    lat_deg          REAL CHECK (lat_deg BETWEEN -90 AND 90),
    lon_deg          REAL CHECK (lon_deg >= 0 AND lon_deg < 360), -- Carrington
    cmd_deg          REAL CHECK (cmd_deg BETWEEN -180 AND 180),   -- west positive
    mu               REAL,
    sigma_lat_deg    REAL CHECK (sigma_lat_deg >= 0), -- 0 with the next: no error known
    sigma_lon_deg    REAL CHECK (sigma_lon_deg >= 0), -- in longitude, not times cos lat
    corr_lat_lon     REAL CHECK (corr_lat_lon BETWEEN -1 AND 1),
    -- on the disc, corrected for height
    high_mm          REAL, -- the height used
    high_sigma_mm    REAL,
    high_lat_deg     REAL CHECK (high_lat_deg BETWEEN -90 AND 90),
    high_lon_deg     REAL CHECK (high_lon_deg >= 0 AND high_lon_deg < 360),
    high_cmd_deg     REAL,
    high_sigma_lat_deg REAL,
    high_sigma_lon_deg REAL,
    high_corr_lat_lon  REAL,
    -- beyond the limb
    edge_pa_deg      REAL,
    edge_sigma_pa_deg REAL,
    edge_from_deg    REAL, -- position angles of its two ends and its top
    edge_to_deg      REAL,
    edge_top_deg     REAL,
    edge_lat_deg     REAL CHECK (edge_lat_deg BETWEEN -90 AND 90), -- of the limb there
    edge_sigma_lat_deg REAL,
    edge_lon_deg     REAL CHECK (edge_lon_deg >= 0 AND edge_lon_deg < 360),
    height_arcsec    REAL, -- of the top above the frame's limb
    sigma_height_arcsec REAL,
    height_mm        REAL, -- of the top above the photosphere
    sigma_height_mm  REAL,
    within_limb      INTEGER CHECK (within_limb IN (0, 1)), -- inside the frame's limb, beyond the photosphere's
    CHECK ((lat_deg IS NULL) = (lon_deg IS NULL) AND (lat_deg IS NULL) = (cmd_deg IS NULL)),
    CHECK ((high_lat_deg IS NULL) = (high_mm IS NULL) AND (high_lat_deg IS NULL) = (high_lon_deg IS NULL)),
    CHECK (reason <> '' OR lat_deg IS NOT NULL OR edge_pa_deg IS NOT NULL)
) STRICT;
CREATE TABLE passages (
    id              INTEGER PRIMARY KEY AUTOINCREMENT,
    uuid            BLOB    NOT NULL UNIQUE CHECK (length(uuid) = 16),
    revision        INTEGER NOT NULL CHECK (revision >= 1),
    operation_id    INTEGER NOT NULL,
    removed         INTEGER NOT NULL DEFAULT 0 CHECK (removed IN (0, 1)),
    name            TEXT    NOT NULL CHECK (name <> ''),
    kind            TEXT    NOT NULL CHECK (kind IN ('sunspot', 'plage', 'filament', 'prominence', 'other')),
    height_mm       REAL,   -- above the photosphere, as following found it
    height_sigma_mm REAL    CHECK (height_sigma_mm >= 0),
    note            TEXT    NOT NULL DEFAULT '',
    stale           INTEGER NOT NULL DEFAULT 0 CHECK (stale IN (0, 1)), -- derived: positions changed since followed
    CHECK ((height_mm IS NULL) = (height_sigma_mm IS NULL))
) STRICT;
CREATE TABLE joins (
    id           INTEGER PRIMARY KEY AUTOINCREMENT,
    uuid         BLOB    NOT NULL UNIQUE CHECK (length(uuid) = 16),
    revision     INTEGER NOT NULL CHECK (revision >= 1),
    operation_id INTEGER NOT NULL,
    removed      INTEGER NOT NULL DEFAULT 0 CHECK (removed IN (0, 1)),
    mark_id      INTEGER NOT NULL REFERENCES marks (id),
    passage_id   INTEGER NOT NULL REFERENCES passages (id),
    state        TEXT    NOT NULL CHECK (state IN ('made', 'proposed', 'refused')),
    voice        TEXT    NOT NULL CHECK (voice IN ('program', 'observer')),
    odds         REAL    CHECK (odds BETWEEN 0 AND 1),
    note         TEXT    NOT NULL DEFAULT ''
) STRICT;
CREATE TABLE links (
    id              INTEGER PRIMARY KEY AUTOINCREMENT,
    uuid            BLOB    NOT NULL UNIQUE CHECK (length(uuid) = 16),
    revision        INTEGER NOT NULL CHECK (revision >= 1),
    operation_id    INTEGER NOT NULL,
    removed         INTEGER NOT NULL DEFAULT 0 CHECK (removed IN (0, 1)),
    from_passage_id INTEGER NOT NULL REFERENCES passages (id), -- the earlier
    to_passage_id   INTEGER NOT NULL REFERENCES passages (id), -- the later
    relation        TEXT    NOT NULL CHECK (relation IN ('return', 'split', 'merger')),
    state           TEXT    NOT NULL CHECK (state IN ('made', 'proposed', 'refused')),
    voice           TEXT    NOT NULL CHECK (voice IN ('program', 'observer')),
    odds            REAL    CHECK (odds BETWEEN 0 AND 1),
    note            TEXT    NOT NULL DEFAULT '',
    CHECK (from_passage_id <> to_passage_id)
) STRICT;
CREATE TABLE habits (
    id    INTEGER PRIMARY KEY CHECK (id = 1),
    learnt TEXT   NOT NULL CHECK (json_valid(learnt))
, last_mark INTEGER NOT NULL DEFAULT 0) STRICT;
CREATE TABLE counts (
    id           INTEGER PRIMARY KEY AUTOINCREMENT,
    uuid         BLOB    NOT NULL UNIQUE CHECK (length(uuid) = 16),
    revision     INTEGER NOT NULL CHECK (revision >= 1),
    operation_id INTEGER NOT NULL,
    removed      INTEGER NOT NULL DEFAULT 0 CHECK (removed IN (0, 1)),
    sitting_id   INTEGER NOT NULL REFERENCES sittings (id),
    tally        TEXT    NOT NULL CHECK (tally IN ('groups', 'spots', 'plages', 'filaments', 'prominences', 'elements')),
    north        INTEGER CHECK (north >= 0), -- of the solar equator; NULL with the next: not told apart
    south        INTEGER CHECK (south >= 0),
    total        INTEGER NOT NULL CHECK (total >= coalesce(north, 0) + coalesce(south, 0)),
    CHECK ((north IS NULL) = (south IS NULL))
) STRICT;
CREATE TABLE unfollowed (
    utc TEXT PRIMARY KEY
) STRICT, WITHOUT ROWID;
CREATE TABLE passage_names (
    name       TEXT    NOT NULL,
    passage_id INTEGER NOT NULL REFERENCES passages (id),
    PRIMARY KEY (name, passage_id)
) STRICT, WITHOUT ROWID;
CREATE TABLE warnings (
    id           INTEGER PRIMARY KEY AUTOINCREMENT,
    uuid         BLOB    NOT NULL UNIQUE CHECK (length(uuid) = 16),
    revision     INTEGER NOT NULL CHECK (revision >= 1),
    operation_id INTEGER NOT NULL,
    removed      INTEGER NOT NULL DEFAULT 0 CHECK (removed IN (0, 1)),
    frame_id     INTEGER NOT NULL REFERENCES frames (id),
    cause        TEXT    NOT NULL CHECK (cause IN ('file', 'horizon', 'limb', 'size', 'north')),
    words        TEXT    NOT NULL CHECK (words <> ''),
    basis        TEXT    NOT NULL, -- the figures it rests on: with others it is another warning
    settled_utc  TEXT    CHECK (settled_utc IS strftime('%Y-%m-%dT%H:%M:%fZ', settled_utc)), -- NULL: not settled
    settled_why  TEXT    NOT NULL DEFAULT '',
    observer_id  INTEGER REFERENCES observers (id), -- who settled it
    CHECK (settled_utc IS NOT NULL OR (settled_why = '' AND observer_id IS NULL))
) STRICT;
CREATE TABLE norths_compared (
    frame_id INTEGER PRIMARY KEY REFERENCES frames (id),
    basis    TEXT NOT NULL
) STRICT;
INSERT INTO goose_db_version VALUES (1, 0, 1, '2026-11-30 16:59:32');
INSERT INTO goose_db_version VALUES (2, 1, 1, '2026-11-30 16:59:32');
INSERT INTO goose_db_version VALUES (3, 2, 1, '2026-11-30 16:59:32');
INSERT INTO goose_db_version VALUES (4, 3, 1, '2026-11-30 16:59:32');
INSERT INTO goose_db_version VALUES (5, 4, 1, '2026-11-30 16:59:32');
INSERT INTO goose_db_version VALUES (6, 5, 1, '2026-11-30 16:59:32');
INSERT INTO operations VALUES (1, x'01a22d65bf8f77cc9365cd848dfb0e7e', 'done', NULL, 'terminal', 'test', '2026-03-14T12:00:00.000Z', x'5ccd311282400c85e1de63a4a6a1e52a0cc52a4f8cce6699bc60c370774b03e5ff35ff2e6a840766197699950fca308e7dd74f53274f2f1519d418be5558647d37b5dcb5f827b7358f57867627fc0bcfb616b22ca71b11db7a020d5c3ad4963f1dc7ed170000ffff');
INSERT INTO operations VALUES (2, x'01a22d65bf9e775998fece381e1a12fb', 'done', NULL, 'terminal', 'test', '2026-03-14T12:00:00.000Z', x'64cb31aec2301045d1feafc27ab59b4fe9ad2084c6f885584966d0309de5bd23a890a8efb903b755f4ce86721e08a93b5170886f4f64f486f29f51b9981365402dde1d19f6a04b74d3eb07cd0c5982fe85aadb464d5d53ac4c476f6de7cf789af332ff5e010000ffff');
INSERT INTO operations VALUES (3, x'01a22d65bfa9741a8cff6b8d9f87222c', 'done', NULL, 'desk:a1b2', 'test', '2026-03-14T12:00:00.000Z', x'6ccbb10ec2201405d0ddaf20776651377ec518f328b79694f21afa1207c2bf9bce3a9f9c8e6991fa6642787498c442046cd2d6031e39215c3d22676d44e8a86aa7c7a62babcbd5d942b7e5940ae1a13b9b58d6fa3ae36d78c86c6cffe347dd5e64e2f113ef633cc7e51b0000ffff');
INSERT INTO observers VALUES (1, x'01a22d65bf82730faa96b0d91e262ba8', 1, 1, 0, 'R. Vane', '', 1, '');
INSERT INTO sites VALUES (1, x'01a22d65bf82784d80ee46b3464271a3', 1, 1, 0, 'Yard', 50.1, 14.4, 0, 'Europe/Prague', 0, '');
INSERT INTO instruments VALUES (1, x'01a22d65bf827ec1a220710608a87365', 1, 1, 0, '60 mm', 60, 500, '');
INSERT INTO setups VALUES (1, x'01a22d65bf83708785be61d341fed794', 1, 1, 0, 1, 'double stack', NULL, 0.5, 2, NULL, 3.45, NULL, NULL, NULL, NULL, NULL, NULL, 0, '');
INSERT INTO sittings VALUES (1, x'01a22d65bf837507a129edf959607758', 1, 1, 0, 1, 1, 1, '2026-03-14', NULL, 'none', NULL, NULL, '2', 'Kiepenheuer, modified', NULL, NULL, 0, '', '');
INSERT INTO frames VALUES (1, x'01a22d65bf8376ba856615f754885734', 1, 1, 0, 1, '/sun/0314.fits', '0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a', '', 'surface', '2026-03-14T12:00:00.000Z', 'start', 20, 1, '', '', 1936, 1216, 0, '', '2026-03-14T12:00:10.000Z');
INSERT INTO discs VALUES (1, x'01a22d65bf8478afb48c83d107ed91ab', 1, 1, 0, 1, 968.25, 607.5, 540.125, 0, 0, 0, 0, 0, 0, 0, 0, 4.35, 0.5, 'prior', 'fitted', 0.4, NULL, 300, 290, 4, 0, '');
INSERT INTO norths VALUES (1, x'01a22d65bf85775cb19331af8d3cfae5', 1, 1, 0, 1, 12.5, 'celestial', 1, 0.3, 'typed', NULL, NULL, '', NULL);
INSERT INTO marks VALUES (1, x'01a22d65bf8670ceb3f75c51a6bfc212', 3, 3, 0, 1, 'filament', 'line', 'pixels', '[[900,600.5],[950.25,620]]', 0.5, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, '', '["x 7"]', 'broken in two places', 1, '2026-03-14T12:00:00.000Z', NULL);
INSERT INTO positions VALUES (1, '2026-03-14T12:00:10.000Z', '', NULL, NULL, 0, -7, 15.352777777777789, 0, 0, 0, 0, 0, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL);
INSERT INTO passages VALUES (1, x'01a22d65bf87731f8e573e683b50d4fd', 1, 1, 0, 'Alder', 'filament', 21, 5, '', 0);
INSERT INTO joins VALUES (1, x'01a22d65bf8777f2881fb2c56284e680', 1, 1, 0, 1, 1, 'made', 'program', 0.93, '');
INSERT INTO unfollowed VALUES ('2026-03-14T12:00:10.000Z');
INSERT INTO passage_names VALUES ('Alder', 1);
INSERT INTO sqlite_sequence VALUES ('goose_db_version', 6);
INSERT INTO sqlite_sequence VALUES ('observers', 1);
INSERT INTO sqlite_sequence VALUES ('sites', 1);
INSERT INTO sqlite_sequence VALUES ('instruments', 1);
INSERT INTO sqlite_sequence VALUES ('setups', 1);
INSERT INTO sqlite_sequence VALUES ('sittings', 1);
INSERT INTO sqlite_sequence VALUES ('frames', 1);
INSERT INTO sqlite_sequence VALUES ('discs', 1);
INSERT INTO sqlite_sequence VALUES ('norths', 1);
INSERT INTO sqlite_sequence VALUES ('marks', 1);
INSERT INTO sqlite_sequence VALUES ('passages', 1);
INSERT INTO sqlite_sequence VALUES ('joins', 1);
INSERT INTO sqlite_sequence VALUES ('operations', 3);
CREATE INDEX operations_by_origin ON operations (origin, id);
CREATE INDEX operations_by_target ON operations (of_id, id) WHERE of_id IS NOT NULL;
CREATE TRIGGER operations_stay BEFORE UPDATE ON operations
BEGIN
    SELECT raise(ABORT, 'the history only grows');
END;
CREATE TRIGGER operations_remain BEFORE DELETE ON operations
BEGIN
    SELECT raise(ABORT, 'the history only grows');
END;
CREATE UNIQUE INDEX observers_by_name ON observers (name) WHERE removed = 0;
CREATE UNIQUE INDEX observers_default ON observers (is_default) WHERE is_default = 1 AND removed = 0;
CREATE UNIQUE INDEX sites_by_name ON sites (name) WHERE removed = 0;
CREATE UNIQUE INDEX sites_default ON sites (is_default) WHERE is_default = 1 AND removed = 0;
CREATE UNIQUE INDEX instruments_by_name ON instruments (name) WHERE removed = 0;
CREATE UNIQUE INDEX setups_by_name ON setups (instrument_id, name) WHERE removed = 0;
CREATE UNIQUE INDEX setups_default ON setups (is_default) WHERE is_default = 1 AND removed = 0;
CREATE INDEX sittings_by_day ON sittings (day);
CREATE INDEX sittings_by_site ON sittings (site_id);
CREATE INDEX frames_by_middle ON frames (middle_utc) WHERE removed = 0;
CREATE INDEX frames_by_sitting ON frames (sitting_id) WHERE sitting_id IS NOT NULL;
CREATE UNIQUE INDEX frames_by_content ON frames (sha256) WHERE removed = 0 AND sha256 IS NOT NULL;
CREATE UNIQUE INDEX discs_by_frame ON discs (frame_id) WHERE removed = 0;
CREATE UNIQUE INDEX norths_by_frame ON norths (frame_id) WHERE removed = 0;
CREATE INDEX norths_by_source ON norths (from_frame_id) WHERE from_frame_id IS NOT NULL;
CREATE INDEX marks_by_frame ON marks (frame_id);
CREATE INDEX marks_by_sameness ON marks (same_as_id) WHERE same_as_id IS NOT NULL;
CREATE INDEX marks_by_label ON marks (label) WHERE label <> '';
CREATE UNIQUE INDEX passages_by_name ON passages (name) WHERE removed = 0;
CREATE INDEX passages_stale ON passages (id) WHERE stale = 1;
CREATE UNIQUE INDEX joins_made ON joins (mark_id) WHERE removed = 0 AND state = 'made';
CREATE UNIQUE INDEX joins_by_mark ON joins (mark_id, passage_id) WHERE removed = 0;
CREATE INDEX joins_by_passage ON joins (passage_id) WHERE removed = 0;
CREATE INDEX joins_unmade ON joins (mark_id) WHERE removed = 0 AND state <> 'made';
CREATE UNIQUE INDEX links_by_pair ON links (from_passage_id, to_passage_id, relation) WHERE removed = 0;
CREATE INDEX links_by_later ON links (to_passage_id) WHERE removed = 0;
CREATE UNIQUE INDEX counts_by_sitting ON counts (sitting_id, tally) WHERE removed = 0;
CREATE TRIGGER passages_begin AFTER INSERT ON passages
BEGIN
    INSERT INTO passage_names VALUES (NEW.name, NEW.id);
END;
CREATE TRIGGER passages_rename AFTER UPDATE OF name ON passages
BEGIN
    INSERT OR IGNORE INTO passage_names VALUES (NEW.name, NEW.id);
END;
CREATE UNIQUE INDEX warnings_by_frame ON warnings (frame_id, cause, basis) WHERE removed = 0;
CREATE INDEX warnings_open ON warnings (frame_id) WHERE removed = 0 AND settled_utc IS NULL;
