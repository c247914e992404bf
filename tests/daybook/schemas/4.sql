-- A daybook as the fourth schema kept it. People and places are invented.
PRAGMA application_id = 2004051042;
BEGIN TRANSACTION;
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('4');
CREATE TABLE dates (
	plate_id VARCHAR(32) NOT NULL, 
	"of" VARCHAR, 
	edtf VARCHAR NOT NULL, 
	words VARCHAR, 
	trust FLOAT, 
	source_id VARCHAR(32), 
	statement_id VARCHAR(32), 
	note VARCHAR, 
	"key" VARCHAR NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	removed BOOLEAN NOT NULL, 
	withdrawn VARCHAR(32), 
	revision INTEGER NOT NULL, 
	CONSTRAINT pk_dates PRIMARY KEY (id), 
	CONSTRAINT fk_dates_plate_id FOREIGN KEY(plate_id) REFERENCES plates (id), 
	CONSTRAINT fk_dates_source_id FOREIGN KEY(source_id) REFERENCES sources (id), 
	CONSTRAINT fk_dates_statement_id FOREIGN KEY(statement_id) REFERENCES statements (id), 
	CONSTRAINT uq_dates_key UNIQUE ("key")
);
INSERT INTO "dates" VALUES('0000000000000000000000000000000a','not after','1871-05-03',NULL,NULL,NULL,'00000000000000000000000000000018',NULL,'date-1','0000000000000000000000000000001c',0,NULL,1);
CREATE TABLE decisions (
	plate_id VARCHAR(32) NOT NULL, 
	fix_id VARCHAR(32), 
	proposed_position_id VARCHAR(32), 
	conclusion VARCHAR NOT NULL, 
	conditions VARCHAR, 
	words VARCHAR NOT NULL, 
	decided_by VARCHAR NOT NULL, 
	decided VARCHAR NOT NULL, 
	supersedes_id VARCHAR(32), 
	"key" VARCHAR NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	removed BOOLEAN NOT NULL, 
	withdrawn VARCHAR(32), 
	revision INTEGER NOT NULL, 
	CONSTRAINT pk_decisions PRIMARY KEY (id), 
	CONSTRAINT fk_decisions_plate_id FOREIGN KEY(plate_id) REFERENCES plates (id), 
	CONSTRAINT fk_decisions_fix_id FOREIGN KEY(fix_id) REFERENCES fixes (id), 
	CONSTRAINT fk_decisions_proposed_position_id FOREIGN KEY(proposed_position_id) REFERENCES proposed_positions (id), 
	CONSTRAINT fk_decisions_supersedes_id FOREIGN KEY(supersedes_id) REFERENCES decisions (id), 
	CONSTRAINT uq_decisions_key UNIQUE ("key")
);
INSERT INTO "decisions" VALUES('0000000000000000000000000000000a','0000000000000000000000000000001f',NULL,'accepted',NULL,'It fits.','Ada Moss','2026-01-02T04:00:00+00:00',NULL,'decision-1','00000000000000000000000000000028',0,NULL,1);
CREATE TABLE details (
	scan_id VARCHAR(32), 
	what VARCHAR, 
	crop_px JSON, 
	feature_id VARCHAR(32), 
	identified_by VARCHAR, 
	note VARCHAR, 
	"key" VARCHAR NOT NULL, 
	plate_id VARCHAR(32) NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	removed BOOLEAN NOT NULL, 
	withdrawn VARCHAR(32), 
	revision INTEGER NOT NULL, 
	CONSTRAINT pk_details PRIMARY KEY (id), 
	CONSTRAINT fk_details_scan_id FOREIGN KEY(scan_id) REFERENCES scans (id), 
	CONSTRAINT fk_details_feature_id FOREIGN KEY(feature_id) REFERENCES features (id), 
	CONSTRAINT fk_details_plate_id FOREIGN KEY(plate_id) REFERENCES plates (id), 
	CONSTRAINT uq_details_plate_id_key UNIQUE (plate_id, "key")
);
INSERT INTO "details" VALUES(NULL,'gable with a bell','[10, 20.5, 30, 40]','0000000000000000000000000000000e',NULL,NULL,'A','0000000000000000000000000000000a','00000000000000000000000000000014',0,NULL,1);
CREATE TABLE evidence (
	kind VARCHAR NOT NULL, 
	scan_id VARCHAR(32), 
	content JSON, 
	trust FLOAT, 
	stands_with VARCHAR, 
	derived_from JSON, 
	traced_blind BOOLEAN, 
	source_words VARCHAR, 
	note VARCHAR, 
	source_id VARCHAR(32), 
	"key" VARCHAR NOT NULL, 
	plate_id VARCHAR(32) NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	removed BOOLEAN NOT NULL, 
	withdrawn VARCHAR(32), 
	revision INTEGER NOT NULL, 
	CONSTRAINT pk_evidence PRIMARY KEY (id), 
	CONSTRAINT fk_evidence_scan_id FOREIGN KEY(scan_id) REFERENCES scans (id), 
	CONSTRAINT fk_evidence_source_id FOREIGN KEY(source_id) REFERENCES sources (id), 
	CONSTRAINT fk_evidence_plate_id FOREIGN KEY(plate_id) REFERENCES plates (id), 
	CONSTRAINT uq_evidence_plate_id_key UNIQUE (plate_id, "key")
);
INSERT INTO "evidence" VALUES('in_line',NULL,'{"a": "A", "b": "chapel"}',NULL,NULL,NULL,NULL,NULL,NULL,NULL,'over','0000000000000000000000000000000a','00000000000000000000000000000017',0,NULL,1);
CREATE TABLE feature_names (
	feature_id VARCHAR(32) NOT NULL, 
	name VARCHAR NOT NULL, 
	language VARCHAR, 
	kind VARCHAR, 
	used_from_edtf VARCHAR, 
	used_to_edtf VARCHAR, 
	source_id VARCHAR(32), 
	"key" VARCHAR NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	removed BOOLEAN NOT NULL, 
	withdrawn VARCHAR(32), 
	revision INTEGER NOT NULL, 
	CONSTRAINT pk_feature_names PRIMARY KEY (id), 
	CONSTRAINT fk_feature_names_feature_id FOREIGN KEY(feature_id) REFERENCES features (id), 
	CONSTRAINT fk_feature_names_source_id FOREIGN KEY(source_id) REFERENCES sources (id), 
	CONSTRAINT uq_feature_names_key UNIQUE ("key")
);
INSERT INTO "feature_names" VALUES('0000000000000000000000000000000e','Sankt Anna',NULL,'old',NULL,NULL,NULL,'name-1','00000000000000000000000000000010',0,NULL,1);
CREATE TABLE features (
	what VARCHAR, 
	geometry JSON, 
	west_deg FLOAT, 
	south_deg FLOAT, 
	east_deg FLOAT, 
	north_deg FLOAT, 
	sd_m FLOAT, 
	height_m FLOAT, 
	height_sd_m FLOAT, 
	object_height_m FLOAT, 
	object_height_sd_m FLOAT, 
	plan_id VARCHAR(32), 
	existed_from_edtf VARCHAR, 
	existed_from_source_id VARCHAR(32), 
	existed_to_edtf VARCHAR, 
	existed_to_source_id VARCHAR(32), 
	source_id VARCHAR(32), 
	source_words VARCHAR, 
	imported JSON, 
	note VARCHAR, 
	"key" VARCHAR NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	removed BOOLEAN NOT NULL, 
	withdrawn VARCHAR(32), 
	revision INTEGER NOT NULL, drawn VARCHAR, traced JSON, 
	CONSTRAINT pk_features PRIMARY KEY (id), 
	CONSTRAINT fk_features_plan_id FOREIGN KEY(plan_id) REFERENCES plans (id), 
	CONSTRAINT fk_features_existed_from_source_id FOREIGN KEY(existed_from_source_id) REFERENCES sources (id), 
	CONSTRAINT fk_features_existed_to_source_id FOREIGN KEY(existed_to_source_id) REFERENCES sources (id), 
	CONSTRAINT fk_features_source_id FOREIGN KEY(source_id) REFERENCES sources (id), 
	CONSTRAINT uq_features_key UNIQUE ("key")
);
INSERT INTO "features" VALUES('gable','{"type": "Point", "coordinates": [8.5109, 46.1055]}',8.5109,46.1055,8.5109,46.1055,3.0,NULL,NULL,NULL,NULL,'0000000000000000000000000000000b','1843~',NULL,NULL,NULL,NULL,NULL,NULL,NULL,'chapel','0000000000000000000000000000000e',0,NULL,1,NULL,NULL);
CREATE TABLE fix_inputs (
	fix_id VARCHAR(32) NOT NULL, 
	role VARCHAR NOT NULL, 
	name VARCHAR NOT NULL, 
	file VARCHAR, 
	sha256 VARCHAR, 
	item_table VARCHAR, 
	item_id VARCHAR, 
	"key" VARCHAR NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	removed BOOLEAN NOT NULL, 
	withdrawn VARCHAR(32), 
	revision INTEGER NOT NULL, 
	CONSTRAINT pk_fix_inputs PRIMARY KEY (id), 
	CONSTRAINT fk_fix_inputs_fix_id FOREIGN KEY(fix_id) REFERENCES fixes (id), 
	CONSTRAINT uq_fix_inputs_key UNIQUE ("key")
);
INSERT INTO "fix_inputs" VALUES('0000000000000000000000000000001f','item','plate 1987.12',NULL,'2222222222222222222222222222222222222222222222222222222222222222','plates','0000000000000000000000000000000a','input-1','00000000000000000000000000000024',0,NULL,1);
CREATE TABLE fixes (
	plate_id VARCHAR(32) NOT NULL, 
	made VARCHAR NOT NULL, 
	version VARCHAR, 
	verdict VARCHAR NOT NULL, 
	near_enough_m FLOAT, 
	lon_deg FLOAT, 
	lat_deg FLOAT, 
	height_m FLOAT, 
	sd_east_m FLOAT, 
	sd_north_m FLOAT, 
	elsewhere FLOAT, 
	answer JSON, 
	words VARCHAR, 
	question JSON, 
	skyline_csv VARCHAR, 
	evidence_toml VARCHAR, 
	after_journal INTEGER, 
	"key" VARCHAR NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	removed BOOLEAN NOT NULL, 
	withdrawn VARCHAR(32), 
	revision INTEGER NOT NULL, 
	CONSTRAINT pk_fixes PRIMARY KEY (id), 
	CONSTRAINT fk_fixes_plate_id FOREIGN KEY(plate_id) REFERENCES plates (id), 
	CONSTRAINT uq_fixes_key UNIQUE ("key")
);
INSERT INTO "fixes" VALUES('0000000000000000000000000000000a','2026-01-02T03:04:05+00:00','0.1.0','located',50.0,8.5121,46.1037,NULL,NULL,NULL,NULL,'{"verdict": "located"}',NULL,'{"seed": 1}',NULL,'wherestood = 1
',3,'fix-1','0000000000000000000000000000001f',0,NULL,1);
CREATE TABLE informants (
	name VARCHAR, 
	contact VARCHAR, 
	how_they_know VARCHAR, 
	said VARCHAR, 
	may_be_named VARCHAR, 
	may_be_published VARCHAR, 
	consent_words VARCHAR, 
	consent_edtf VARCHAR, 
	note VARCHAR, 
	"key" VARCHAR NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	removed BOOLEAN NOT NULL, 
	withdrawn VARCHAR(32), 
	revision INTEGER NOT NULL, 
	CONSTRAINT pk_informants PRIMARY KEY (id), 
	CONSTRAINT uq_informants_key UNIQUE ("key")
);
INSERT INTO "informants" VALUES('Cora Fell',NULL,NULL,NULL,'initials',NULL,NULL,NULL,NULL,'informant-1','00000000000000000000000000000005',0,NULL,1);
CREATE TABLE journal (
	number INTEGER NOT NULL, 
	uid VARCHAR(32) NOT NULL, 
	act VARCHAR(32) NOT NULL, 
	time VARCHAR(32) NOT NULL, 
	person VARCHAR NOT NULL, 
	action VARCHAR(16) NOT NULL, 
	table_name VARCHAR(32) NOT NULL, 
	item_id VARCHAR(32) NOT NULL, 
	plate_id VARCHAR(32), 
	"before" JSON, 
	"after" JSON, 
	why VARCHAR NOT NULL, 
	undoes VARCHAR(32), 
	CONSTRAINT pk_journal PRIMARY KEY (number), 
	CONSTRAINT uq_journal_uid UNIQUE (uid)
);
INSERT INTO "journal" VALUES(1,'00000000000000000000000000000006','00000000000000000000000000000001','2026-01-02T03:04:00.000000+00:00','Ada Moss','add','makers','00000000000000000000000000000002',NULL,NULL,'{"name": "Weir & Daughter", "key": "maker-1", "id": "00000000000000000000000000000002", "removed": false, "revision": 1}','from the register',NULL);
INSERT INTO "journal" VALUES(2,'00000000000000000000000000000007','00000000000000000000000000000001','2026-01-02T03:04:00.000000+00:00','Ada Moss','add','requests','00000000000000000000000000000003',NULL,NULL,'{"asked_by": "the museum", "question": "Which weir?", "near_enough_m": 50.0, "state": "open", "key": "request-1", "id": "00000000000000000000000000000003", "removed": false, "revision": 1}','from the register',NULL);
INSERT INTO "journal" VALUES(3,'00000000000000000000000000000008','00000000000000000000000000000001','2026-01-02T03:04:00.000000+00:00','Ada Moss','add','sources','00000000000000000000000000000004',NULL,NULL,'{"citation": "Weekly Herald, 3 May 1871, p. 2", "kind": "newspaper", "quotation": "“At the Weir”, by\nMr Weir", "key": "source-1", "id": "00000000000000000000000000000004", "removed": false, "revision": 1}','from the register',NULL);
INSERT INTO "journal" VALUES(4,'00000000000000000000000000000009','00000000000000000000000000000001','2026-01-02T03:04:00.000000+00:00','Ada Moss','add','informants','00000000000000000000000000000005',NULL,NULL,'{"name": "Cora Fell", "may_be_named": "initials", "key": "informant-1", "id": "00000000000000000000000000000005", "removed": false, "revision": 1}','from the register',NULL);
INSERT INTO "journal" VALUES(5,'0000000000000000000000000000000c','00000000000000000000000000000001','2026-01-02T03:05:00.000000+00:00','Ada Moss','add','plates','0000000000000000000000000000000a','0000000000000000000000000000000a',NULL,'{"title": "The mill at the weir (Mühle)", "subjects": ["mill", "weir"], "maker_id": "00000000000000000000000000000002", "request_id": "00000000000000000000000000000003", "trimmed": false, "ground_searched": "8.5,46.1,3km", "near_enough_m": 50.0, "catalogue": {"Nr": "12", "Ort": null, "Maß": [16.5, 21.6]}, "key": "1987.12", "id": "0000000000000000000000000000000a", "removed": false, "revision": 1}','from the register',NULL);
INSERT INTO "journal" VALUES(6,'0000000000000000000000000000000d','00000000000000000000000000000001','2026-01-02T03:05:00.000000+00:00','Ada Moss','add','plans','0000000000000000000000000000000b',NULL,NULL,'{"shared_shift_sd_m": 6.0, "key": "plan 1869", "id": "0000000000000000000000000000000b", "removed": false, "revision": 1}','from the register',NULL);
INSERT INTO "journal" VALUES(7,'0000000000000000000000000000000f','00000000000000000000000000000001','2026-01-02T03:06:00.000000+00:00','Ada Moss','add','features','0000000000000000000000000000000e',NULL,NULL,'{"what": "gable", "geometry": {"type": "Point", "coordinates": [8.5109, 46.1055]}, "west_deg": 8.5109, "south_deg": 46.1055, "east_deg": 8.5109, "north_deg": 46.1055, "sd_m": 3.0, "plan_id": "0000000000000000000000000000000b", "existed_from_edtf": "1843~", "key": "chapel", "id": "0000000000000000000000000000000e", "removed": false, "revision": 1}','from the register',NULL);
INSERT INTO "journal" VALUES(8,'00000000000000000000000000000012','00000000000000000000000000000001','2026-01-02T03:07:00.000000+00:00','Ada Moss','add','feature_names','00000000000000000000000000000010',NULL,NULL,'{"feature_id": "0000000000000000000000000000000e", "name": "Sankt Anna", "kind": "old", "key": "name-1", "id": "00000000000000000000000000000010", "removed": false, "revision": 1}','from the register',NULL);
INSERT INTO "journal" VALUES(9,'00000000000000000000000000000013','00000000000000000000000000000001','2026-01-02T03:07:00.000000+00:00','Ada Moss','add','scans','00000000000000000000000000000011','0000000000000000000000000000000a',NULL,'{"file": "originals/1987.12.tif", "kept": "taken in", "main": true, "sha256": "0000000000000000000000000000000000000000000000000000000000000000", "width_px": 9000, "height_px": 7000, "key": "1", "plate_id": "0000000000000000000000000000000a", "id": "00000000000000000000000000000011", "removed": false, "revision": 1}','from the register',NULL);
INSERT INTO "journal" VALUES(10,'00000000000000000000000000000015','00000000000000000000000000000001','2026-01-02T03:08:00.000000+00:00','Ada Moss','add','details','00000000000000000000000000000014','0000000000000000000000000000000a',NULL,'{"what": "gable with a bell", "crop_px": [10, 20.5, 30, 40], "feature_id": "0000000000000000000000000000000e", "key": "A", "plate_id": "0000000000000000000000000000000a", "id": "00000000000000000000000000000014", "removed": false, "revision": 1}','from the register',NULL);
INSERT INTO "journal" VALUES(11,'00000000000000000000000000000019','00000000000000000000000000000001','2026-01-02T03:09:00.000000+00:00','Ada Moss','add','marks','00000000000000000000000000000016','0000000000000000000000000000000a',NULL,'{"scan_id": "00000000000000000000000000000011", "detail_id": "00000000000000000000000000000014", "shape": "point", "points_px": [[701.37, 433.21]], "sd_px": 2.0, "trust": 0.9, "key": "A", "plate_id": "0000000000000000000000000000000a", "id": "00000000000000000000000000000016", "removed": false, "revision": 1}','from the register',NULL);
INSERT INTO "journal" VALUES(12,'0000000000000000000000000000001a','00000000000000000000000000000001','2026-01-02T03:09:00.000000+00:00','Ada Moss','add','evidence','00000000000000000000000000000017','0000000000000000000000000000000a',NULL,'{"kind": "in_line", "content": {"a": "A", "b": "chapel"}, "key": "over", "plate_id": "0000000000000000000000000000000a", "id": "00000000000000000000000000000017", "removed": false, "revision": 1}','from the register',NULL);
INSERT INTO "journal" VALUES(13,'0000000000000000000000000000001b','00000000000000000000000000000001','2026-01-02T03:09:00.000000+00:00','Ada Moss','add','statements','00000000000000000000000000000018','0000000000000000000000000000000a',NULL,'{"plate_id": "0000000000000000000000000000000a", "about": "place", "words": "taken from the weir", "source_id": "00000000000000000000000000000004", "feature_id": "0000000000000000000000000000000e", "place": "within", "within_m": 200.0, "weight": 0.6, "key": "statement-1", "id": "00000000000000000000000000000018", "removed": false, "revision": 1}','from the register',NULL);
INSERT INTO "journal" VALUES(14,'00000000000000000000000000000020','00000000000000000000000000000001','2026-01-02T03:10:00.000000+00:00','Ada Moss','add','dates','0000000000000000000000000000001c','0000000000000000000000000000000a',NULL,'{"plate_id": "0000000000000000000000000000000a", "of": "not after", "edtf": "1871-05-03", "statement_id": "00000000000000000000000000000018", "key": "date-1", "id": "0000000000000000000000000000001c", "removed": false, "revision": 1}','from the register',NULL);
INSERT INTO "journal" VALUES(15,'00000000000000000000000000000021','00000000000000000000000000000001','2026-01-02T03:10:00.000000+00:00','Ada Moss','add','leads','0000000000000000000000000000001d','0000000000000000000000000000000a',NULL,'{"plate_id": "0000000000000000000000000000000a", "what": "rate book", "state": "to do", "key": "lead-1", "id": "0000000000000000000000000000001d", "removed": false, "revision": 1}','from the register',NULL);
INSERT INTO "journal" VALUES(16,'00000000000000000000000000000022','00000000000000000000000000000001','2026-01-02T03:10:00.000000+00:00','Ada Moss','add','terrain_layers','0000000000000000000000000000001e',NULL,NULL,'{"files": [{"file": "terrain/hills.tif", "sha256": "1111111111111111111111111111111111111111111111111111111111111111"}], "licence": "CC0", "surface": "ground", "key": "hills", "id": "0000000000000000000000000000001e", "removed": false, "revision": 1}','from the register',NULL);
INSERT INTO "journal" VALUES(17,'00000000000000000000000000000023','00000000000000000000000000000001','2026-01-02T03:10:00.000000+00:00','Ada Moss','add','fixes','0000000000000000000000000000001f','0000000000000000000000000000000a',NULL,'{"plate_id": "0000000000000000000000000000000a", "made": "2026-01-02T03:04:05+00:00", "version": "0.1.0", "verdict": "located", "near_enough_m": 50.0, "lon_deg": 8.5121, "lat_deg": 46.1037, "answer": {"verdict": "located"}, "question": {"seed": 1}, "evidence_toml": "wherestood = 1\n", "after_journal": 3, "key": "fix-1", "id": "0000000000000000000000000000001f", "removed": false, "revision": 1}','from the register',NULL);
INSERT INTO "journal" VALUES(18,'00000000000000000000000000000026','00000000000000000000000000000001','2026-01-02T03:11:00.000000+00:00','Ada Moss','add','fix_inputs','00000000000000000000000000000024',NULL,NULL,'{"fix_id": "0000000000000000000000000000001f", "role": "item", "name": "plate 1987.12", "sha256": "2222222222222222222222222222222222222222222222222222222222222222", "item_table": "plates", "item_id": "0000000000000000000000000000000a", "key": "input-1", "id": "00000000000000000000000000000024", "removed": false, "revision": 1}','from the register',NULL);
INSERT INTO "journal" VALUES(19,'00000000000000000000000000000027','00000000000000000000000000000001','2026-01-02T03:11:00.000000+00:00','Ada Moss','add','proposed_positions','00000000000000000000000000000025','0000000000000000000000000000000a',NULL,'{"plate_id": "0000000000000000000000000000000a", "proposed_by": "catalogue", "lon_deg": 8.51, "lat_deg": 46.1, "bearing_deg": 215.0, "key": "proposed-1", "id": "00000000000000000000000000000025", "removed": false, "revision": 1}','from the register',NULL);
INSERT INTO "journal" VALUES(20,'0000000000000000000000000000002d','00000000000000000000000000000001','2026-01-02T03:12:00.000000+00:00','Ada Moss','add','decisions','00000000000000000000000000000028','0000000000000000000000000000000a',NULL,'{"plate_id": "0000000000000000000000000000000a", "fix_id": "0000000000000000000000000000001f", "conclusion": "accepted", "words": "It fits.", "decided_by": "Ada Moss", "decided": "2026-01-02T04:00:00+00:00", "key": "decision-1", "id": "00000000000000000000000000000028", "removed": false, "revision": 1}','from the register',NULL);
INSERT INTO "journal" VALUES(21,'0000000000000000000000000000002e','00000000000000000000000000000001','2026-01-02T03:12:00.000000+00:00','Ada Moss','add','rights','00000000000000000000000000000029','0000000000000000000000000000000a',NULL,'{"what": "image", "holder": "UNKNOWN", "about_table": "plates", "about_id": "0000000000000000000000000000000a", "plate_id": "0000000000000000000000000000000a", "key": "right-1", "id": "00000000000000000000000000000029", "removed": false, "revision": 1}','from the register',NULL);
INSERT INTO "journal" VALUES(22,'0000000000000000000000000000002f','00000000000000000000000000000001','2026-01-02T03:12:00.000000+00:00','Ada Moss','add','restrictions','0000000000000000000000000000002a','0000000000000000000000000000000a',NULL,'{"precision": "1 km", "because": "garden", "about_table": "plates", "about_id": "0000000000000000000000000000000a", "plate_id": "0000000000000000000000000000000a", "key": "restriction-1", "id": "0000000000000000000000000000002a", "removed": false, "revision": 1}','from the register',NULL);
INSERT INTO "journal" VALUES(23,'00000000000000000000000000000030','00000000000000000000000000000001','2026-01-02T03:12:00.000000+00:00','Ada Moss','add','notes','0000000000000000000000000000002b','0000000000000000000000000000000a',NULL,'{"words": "ask the museum", "about_table": "plates", "about_id": "0000000000000000000000000000000a", "plate_id": "0000000000000000000000000000000a", "key": "note-1", "id": "0000000000000000000000000000002b", "removed": false, "revision": 1}','from the register',NULL);
INSERT INTO "journal" VALUES(24,'00000000000000000000000000000031','00000000000000000000000000000001','2026-01-02T03:12:00.000000+00:00','Ada Moss','add','settings','0000000000000000000000000000002c',NULL,NULL,'{"value": {"Nr": "key"}, "key": "columns", "id": "0000000000000000000000000000002c", "removed": false, "revision": 1}','from the register',NULL);
INSERT INTO "journal" VALUES(25,'00000000000000000000000000000033','00000000000000000000000000000032','2026-01-02T03:13:00.000000+00:00','Ben','change','leads','0000000000000000000000000000001d','0000000000000000000000000000000a','{"state": "to do", "revision": 1}','{"state": "nothing found", "revision": 2}','volumes 3 to 7',NULL);
INSERT INTO "journal" VALUES(26,'00000000000000000000000000000035','00000000000000000000000000000034','2026-01-02T03:14:00.000000+00:00','Ben','remove','marks','00000000000000000000000000000016','0000000000000000000000000000000a','{"removed": false, "revision": 1}','{"removed": true, "revision": 2}','',NULL);
INSERT INTO "journal" VALUES(27,'00000000000000000000000000000037','00000000000000000000000000000036','2026-01-02T03:15:00.000000+00:00','Ada Moss','undo','marks','00000000000000000000000000000016','0000000000000000000000000000000a','{"removed": true, "revision": 2}','{"removed": false, "revision": 3}','','00000000000000000000000000000034');
INSERT INTO "journal" VALUES(28,'4fc8d378ed264313854621fc45495237','e9532a4b07224f0cb96be5753e918105','2026-01-06T07:08:09.000000+00:00','Ada Moss','change','plans','0000000000000000000000000000000b',NULL,'{"page": null, "width_px": null, "height_px": null, "revision": 1}','{"page": 1, "width_px": 4000, "height_px": 3000, "revision": 2}','the second leaf of the roll',NULL);
CREATE TABLE leads (
	plate_id VARCHAR(32), 
	what VARCHAR NOT NULL, 
	"where" VARCHAR, 
	state VARCHAR NOT NULL, 
	outcome VARCHAR, 
	because VARCHAR, 
	due_edtf VARCHAR, 
	source_id VARCHAR(32), 
	informant_id VARCHAR(32), 
	note VARCHAR, 
	"key" VARCHAR NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	removed BOOLEAN NOT NULL, 
	withdrawn VARCHAR(32), 
	revision INTEGER NOT NULL, 
	CONSTRAINT pk_leads PRIMARY KEY (id), 
	CONSTRAINT fk_leads_plate_id FOREIGN KEY(plate_id) REFERENCES plates (id), 
	CONSTRAINT fk_leads_source_id FOREIGN KEY(source_id) REFERENCES sources (id), 
	CONSTRAINT fk_leads_informant_id FOREIGN KEY(informant_id) REFERENCES informants (id), 
	CONSTRAINT uq_leads_key UNIQUE ("key")
);
INSERT INTO "leads" VALUES('0000000000000000000000000000000a','rate book',NULL,'nothing found',NULL,NULL,NULL,NULL,NULL,NULL,'lead-1','0000000000000000000000000000001d',0,NULL,2);
CREATE TABLE makers (
	name VARCHAR NOT NULL, 
	other_names JSON, 
	working_from_edtf VARCHAR, 
	working_to_edtf VARCHAR, 
	places VARCHAR, 
	lens VARCHAR, 
	numbering VARCHAR, 
	source_id VARCHAR(32), 
	note VARCHAR, 
	"key" VARCHAR NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	removed BOOLEAN NOT NULL, 
	withdrawn VARCHAR(32), 
	revision INTEGER NOT NULL, 
	CONSTRAINT pk_makers PRIMARY KEY (id), 
	CONSTRAINT fk_makers_source_id FOREIGN KEY(source_id) REFERENCES sources (id), 
	CONSTRAINT uq_makers_key UNIQUE ("key")
);
INSERT INTO "makers" VALUES('Weir & Daughter',NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,'maker-1','00000000000000000000000000000002',0,NULL,1);
CREATE TABLE marks (
	scan_id VARCHAR(32), 
	detail_id VARCHAR(32), 
	shape VARCHAR, 
	points_px JSON, 
	sd_px FLOAT, 
	at VARCHAR, 
	features JSON, 
	trust FLOAT, 
	stands_with VARCHAR, 
	derived_from JSON, 
	traced_blind BOOLEAN, 
	source_words VARCHAR, 
	note VARCHAR, 
	source_id VARCHAR(32), 
	"key" VARCHAR NOT NULL, 
	plate_id VARCHAR(32) NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	removed BOOLEAN NOT NULL, 
	withdrawn VARCHAR(32), 
	revision INTEGER NOT NULL, 
	CONSTRAINT pk_marks PRIMARY KEY (id), 
	CONSTRAINT fk_marks_scan_id FOREIGN KEY(scan_id) REFERENCES scans (id), 
	CONSTRAINT fk_marks_detail_id FOREIGN KEY(detail_id) REFERENCES details (id), 
	CONSTRAINT fk_marks_source_id FOREIGN KEY(source_id) REFERENCES sources (id), 
	CONSTRAINT fk_marks_plate_id FOREIGN KEY(plate_id) REFERENCES plates (id), 
	CONSTRAINT uq_marks_plate_id_key UNIQUE (plate_id, "key")
);
INSERT INTO "marks" VALUES('00000000000000000000000000000011','00000000000000000000000000000014','point','[[701.37, 433.21]]',2.0,NULL,NULL,0.9,NULL,NULL,NULL,NULL,NULL,NULL,'A','0000000000000000000000000000000a','00000000000000000000000000000016',0,NULL,3);
CREATE TABLE notes (
	words VARCHAR NOT NULL, 
	about_table VARCHAR NOT NULL, 
	about_id VARCHAR(32) NOT NULL, 
	plate_id VARCHAR(32), 
	"key" VARCHAR NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	removed BOOLEAN NOT NULL, 
	withdrawn VARCHAR(32), 
	revision INTEGER NOT NULL, 
	CONSTRAINT pk_notes PRIMARY KEY (id), 
	CONSTRAINT fk_notes_plate_id FOREIGN KEY(plate_id) REFERENCES plates (id), 
	CONSTRAINT uq_notes_key UNIQUE ("key")
);
INSERT INTO "notes" VALUES('ask the museum','plates','0000000000000000000000000000000a','0000000000000000000000000000000a','note-1','0000000000000000000000000000002b',0,NULL,1);
CREATE TABLE plans (
	title VARCHAR, 
	date_edtf VARCHAR, 
	file VARCHAR, 
	sha256 VARCHAR, 
	shared_shift_sd_m FLOAT, 
	pins JSON, 
	fit VARCHAR, 
	north VARCHAR, 
	source_id VARCHAR(32), 
	source_words VARCHAR, 
	note VARCHAR, 
	"key" VARCHAR NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	removed BOOLEAN NOT NULL, 
	withdrawn VARCHAR(32), 
	revision INTEGER NOT NULL, page INTEGER, page_ppi FLOAT, width_px INTEGER, height_px INTEGER, mirrored BOOLEAN, 
	CONSTRAINT pk_plans PRIMARY KEY (id), 
	CONSTRAINT fk_plans_source_id FOREIGN KEY(source_id) REFERENCES sources (id), 
	CONSTRAINT uq_plans_key UNIQUE ("key")
);
INSERT INTO "plans" VALUES(NULL,NULL,NULL,NULL,6.0,NULL,NULL,NULL,NULL,NULL,NULL,'plan 1869','0000000000000000000000000000000b',0,NULL,2,1,NULL,4000,3000,NULL);
CREATE TABLE plates (
	title VARCHAR, 
	description VARCHAR, 
	held_by VARCHAR, 
	collection VARCHAR, 
	subjects JSON, 
	negative_number VARCHAR, 
	inscription VARCHAR, 
	place_words VARCHAR, 
	date_words VARCHAR, 
	maker_id VARCHAR(32), 
	request_id VARCHAR(32), 
	process VARCHAR, 
	size VARCHAR, 
	trimmed BOOLEAN, 
	footing VARCHAR, 
	principal_distance_mm FLOAT, 
	principal_distance_sd_mm FLOAT, 
	ground_searched VARCHAR, 
	near_enough_m FLOAT, 
	grade VARCHAR, 
	catalogue JSON, 
	note VARCHAR, 
	"key" VARCHAR NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	removed BOOLEAN NOT NULL, 
	withdrawn VARCHAR(32), 
	revision INTEGER NOT NULL, panorama VARCHAR, 
	CONSTRAINT pk_plates PRIMARY KEY (id), 
	CONSTRAINT fk_plates_maker_id FOREIGN KEY(maker_id) REFERENCES makers (id), 
	CONSTRAINT fk_plates_request_id FOREIGN KEY(request_id) REFERENCES requests (id), 
	CONSTRAINT uq_plates_key UNIQUE ("key")
);
INSERT INTO "plates" VALUES('The mill at the weir (Mühle)',NULL,NULL,NULL,'["mill", "weir"]',NULL,NULL,NULL,NULL,'00000000000000000000000000000002','00000000000000000000000000000003',NULL,NULL,0,NULL,NULL,NULL,'8.5,46.1,3km',50.0,NULL,'{"Nr": "12", "Ort": null, "Maß": [16.5, 21.6]}',NULL,'1987.12','0000000000000000000000000000000a',0,NULL,1,NULL);
CREATE TABLE proposed_positions (
	plate_id VARCHAR(32) NOT NULL, 
	proposed_by VARCHAR, 
	lon_deg FLOAT, 
	lat_deg FLOAT, 
	doubt_m FLOAT, 
	bearing_deg FLOAT, 
	reason VARCHAR, 
	source_id VARCHAR(32), 
	informant_id VARCHAR(32), 
	note VARCHAR, 
	"key" VARCHAR NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	removed BOOLEAN NOT NULL, 
	withdrawn VARCHAR(32), 
	revision INTEGER NOT NULL, 
	CONSTRAINT pk_proposed_positions PRIMARY KEY (id), 
	CONSTRAINT fk_proposed_positions_plate_id FOREIGN KEY(plate_id) REFERENCES plates (id), 
	CONSTRAINT fk_proposed_positions_source_id FOREIGN KEY(source_id) REFERENCES sources (id), 
	CONSTRAINT fk_proposed_positions_informant_id FOREIGN KEY(informant_id) REFERENCES informants (id), 
	CONSTRAINT uq_proposed_positions_key UNIQUE ("key")
);
INSERT INTO "proposed_positions" VALUES('0000000000000000000000000000000a','catalogue',8.51,46.1,NULL,215.0,NULL,NULL,NULL,NULL,'proposed-1','00000000000000000000000000000025',0,NULL,1);
CREATE TABLE requests (
	asked_by VARCHAR, 
	question VARCHAR NOT NULL, 
	near_enough_m FLOAT, 
	by_when_edtf VARCHAR, 
	loan_terms VARCHAR, 
	contact VARCHAR, 
	state VARCHAR, 
	answer VARCHAR, 
	"key" VARCHAR NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	removed BOOLEAN NOT NULL, 
	withdrawn VARCHAR(32), 
	revision INTEGER NOT NULL, 
	CONSTRAINT pk_requests PRIMARY KEY (id), 
	CONSTRAINT uq_requests_key UNIQUE ("key")
);
INSERT INTO "requests" VALUES('the museum','Which weir?',50.0,NULL,NULL,NULL,'open',NULL,'request-1','00000000000000000000000000000003',0,NULL,1);
CREATE TABLE restrictions (
	precision VARCHAR, 
	covered BOOLEAN, 
	because VARCHAR, 
	asked_by VARCHAR, 
	until_edtf VARCHAR, 
	about_table VARCHAR NOT NULL, 
	about_id VARCHAR(32) NOT NULL, 
	plate_id VARCHAR(32), 
	"key" VARCHAR NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	removed BOOLEAN NOT NULL, 
	withdrawn VARCHAR(32), 
	revision INTEGER NOT NULL, published_words VARCHAR, 
	CONSTRAINT pk_restrictions PRIMARY KEY (id), 
	CONSTRAINT fk_restrictions_plate_id FOREIGN KEY(plate_id) REFERENCES plates (id), 
	CONSTRAINT uq_restrictions_key UNIQUE ("key")
);
INSERT INTO "restrictions" VALUES('1 km',NULL,'garden',NULL,NULL,'plates','0000000000000000000000000000000a','0000000000000000000000000000000a','restriction-1','0000000000000000000000000000002a',0,NULL,1,NULL);
CREATE TABLE rights (
	what VARCHAR, 
	holder VARCHAR, 
	licence VARCHAR, 
	credit VARCHAR, 
	terms VARCHAR, 
	may_be_published BOOLEAN, 
	note VARCHAR, 
	about_table VARCHAR NOT NULL, 
	about_id VARCHAR(32) NOT NULL, 
	plate_id VARCHAR(32), 
	"key" VARCHAR NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	removed BOOLEAN NOT NULL, 
	withdrawn VARCHAR(32), 
	revision INTEGER NOT NULL, 
	CONSTRAINT pk_rights PRIMARY KEY (id), 
	CONSTRAINT fk_rights_plate_id FOREIGN KEY(plate_id) REFERENCES plates (id), 
	CONSTRAINT uq_rights_key UNIQUE ("key")
);
INSERT INTO "rights" VALUES('image','UNKNOWN',NULL,NULL,NULL,NULL,NULL,'plates','0000000000000000000000000000000a','0000000000000000000000000000000a','right-1','00000000000000000000000000000029',0,NULL,1);
CREATE TABLE scans (
	file VARCHAR NOT NULL, 
	kept VARCHAR, 
	original_name VARCHAR, 
	accession_number VARCHAR, 
	what VARCHAR, 
	main BOOLEAN, 
	sha256 VARCHAR NOT NULL, 
	size_bytes INTEGER, 
	width_px INTEGER, 
	height_px INTEGER, 
	page INTEGER, 
	scan_ppi FLOAT, 
	negative BOOLEAN, 
	reversed BOOLEAN, 
	corners_px JSON, 
	perceptual_hash VARCHAR, 
	embedded JSON, 
	registered_to_id VARCHAR(32), 
	registration JSON, 
	note VARCHAR, 
	"key" VARCHAR NOT NULL, 
	plate_id VARCHAR(32) NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	removed BOOLEAN NOT NULL, 
	withdrawn VARCHAR(32), 
	revision INTEGER NOT NULL, 
	CONSTRAINT pk_scans PRIMARY KEY (id), 
	CONSTRAINT fk_scans_registered_to_id FOREIGN KEY(registered_to_id) REFERENCES scans (id), 
	CONSTRAINT fk_scans_plate_id FOREIGN KEY(plate_id) REFERENCES plates (id), 
	CONSTRAINT uq_scans_plate_id_key UNIQUE (plate_id, "key")
);
INSERT INTO "scans" VALUES('originals/1987.12.tif','taken in',NULL,NULL,NULL,1,'0000000000000000000000000000000000000000000000000000000000000000',NULL,9000,7000,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,'1','0000000000000000000000000000000a','00000000000000000000000000000011',0,NULL,1);
CREATE TABLE settings (
	value JSON, 
	"key" VARCHAR NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	removed BOOLEAN NOT NULL, 
	withdrawn VARCHAR(32), 
	revision INTEGER NOT NULL, 
	CONSTRAINT pk_settings PRIMARY KEY (id), 
	CONSTRAINT uq_settings_key UNIQUE ("key")
);
INSERT INTO "settings" VALUES('{"Nr": "key"}','columns','0000000000000000000000000000002c',0,NULL,1);
CREATE TABLE sources (
	citation VARCHAR NOT NULL, 
	kind VARCHAR, 
	held VARCHAR, 
	quotation VARCHAR, 
	written_by VARCHAR, 
	written_edtf VARCHAR, 
	address VARCHAR, 
	seen_edtf VARCHAR, 
	note VARCHAR, 
	"key" VARCHAR NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	removed BOOLEAN NOT NULL, 
	withdrawn VARCHAR(32), 
	revision INTEGER NOT NULL, 
	CONSTRAINT pk_sources PRIMARY KEY (id), 
	CONSTRAINT uq_sources_key UNIQUE ("key")
);
INSERT INTO "sources" VALUES('Weekly Herald, 3 May 1871, p. 2','newspaper',NULL,'“At the Weir”, by
Mr Weir',NULL,NULL,NULL,NULL,NULL,'source-1','00000000000000000000000000000004',0,NULL,1);
CREATE TABLE statements (
	plate_id VARCHAR(32), 
	about VARCHAR, 
	words VARCHAR NOT NULL, 
	source_id VARCHAR(32), 
	informant_id VARCHAR(32), 
	feature_id VARCHAR(32), 
	place VARCHAR, 
	within_m FLOAT, 
	weight FLOAT, 
	means_edtf VARCHAR, 
	stands_with VARCHAR, 
	derived_from JSON, 
	more JSON, 
	note VARCHAR, 
	"key" VARCHAR NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	removed BOOLEAN NOT NULL, 
	withdrawn VARCHAR(32), 
	revision INTEGER NOT NULL, 
	CONSTRAINT pk_statements PRIMARY KEY (id), 
	CONSTRAINT fk_statements_plate_id FOREIGN KEY(plate_id) REFERENCES plates (id), 
	CONSTRAINT fk_statements_source_id FOREIGN KEY(source_id) REFERENCES sources (id), 
	CONSTRAINT fk_statements_informant_id FOREIGN KEY(informant_id) REFERENCES informants (id), 
	CONSTRAINT fk_statements_feature_id FOREIGN KEY(feature_id) REFERENCES features (id), 
	CONSTRAINT uq_statements_key UNIQUE ("key")
);
INSERT INTO "statements" VALUES('0000000000000000000000000000000a','place','taken from the weir','00000000000000000000000000000004',NULL,'0000000000000000000000000000000e','within',200.0,0.6,NULL,NULL,NULL,NULL,NULL,'statement-1','00000000000000000000000000000018',0,NULL,1);
CREATE TABLE terrain_layers (
	title VARCHAR, 
	files JSON, 
	kept VARCHAR, 
	provenance VARCHAR, 
	licence VARCHAR, 
	credit VARCHAR, 
	surface VARCHAR, 
	vertical_datum VARCHAR, 
	crs VARCHAR, 
	cell_m FLOAT, 
	west_deg FLOAT, 
	south_deg FLOAT, 
	east_deg FLOAT, 
	north_deg FLOAT, 
	overlaps JSON, 
	source_id VARCHAR(32), 
	note VARCHAR, 
	"key" VARCHAR NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	removed BOOLEAN NOT NULL, 
	withdrawn VARCHAR(32), 
	revision INTEGER NOT NULL, 
	CONSTRAINT pk_terrain_layers PRIMARY KEY (id), 
	CONSTRAINT fk_terrain_layers_source_id FOREIGN KEY(source_id) REFERENCES sources (id), 
	CONSTRAINT uq_terrain_layers_key UNIQUE ("key")
);
INSERT INTO "terrain_layers" VALUES(NULL,'[{"file": "terrain/hills.tif", "sha256": "1111111111111111111111111111111111111111111111111111111111111111"}]',NULL,NULL,'CC0',NULL,'ground',NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,'hills','0000000000000000000000000000001e',0,NULL,1);
CREATE TABLE words (
	item_id VARCHAR(32) NOT NULL, 
	table_name VARCHAR(32) NOT NULL, 
	plate_id VARCHAR(32), 
	text VARCHAR NOT NULL, 
	CONSTRAINT pk_words PRIMARY KEY (item_id)
);
INSERT INTO "words" VALUES('00000000000000000000000000000002','makers',NULL,'maker-1 | weir & daughter');
INSERT INTO "words" VALUES('00000000000000000000000000000003','requests',NULL,'request-1 | the museum');
INSERT INTO "words" VALUES('00000000000000000000000000000004','sources',NULL,'source-1 | weekly herald, 3 may 1871, p. 2 | “at the weir”, by mr weir');
INSERT INTO "words" VALUES('00000000000000000000000000000005','informants',NULL,'informant-1 | cora fell');
INSERT INTO "words" VALUES('0000000000000000000000000000000a','plates','0000000000000000000000000000000a','1987.12 | the mill at the weir (muhle) | mill | weir | 8.5,46.1,3km | 12');
INSERT INTO "words" VALUES('0000000000000000000000000000000e','features',NULL,'chapel | gable | 1843~');
INSERT INTO "words" VALUES('00000000000000000000000000000010','feature_names',NULL,'name-1 | sankt anna');
INSERT INTO "words" VALUES('00000000000000000000000000000011','scans','0000000000000000000000000000000a','1 | originals/1987.12.tif');
INSERT INTO "words" VALUES('00000000000000000000000000000014','details','0000000000000000000000000000000a','a | gable with a bell');
INSERT INTO "words" VALUES('00000000000000000000000000000017','evidence','0000000000000000000000000000000a','over');
INSERT INTO "words" VALUES('00000000000000000000000000000018','statements','0000000000000000000000000000000a','statement-1 | taken from the weir');
INSERT INTO "words" VALUES('0000000000000000000000000000001c','dates','0000000000000000000000000000000a','date-1 | 1871-05-03');
INSERT INTO "words" VALUES('0000000000000000000000000000001e','terrain_layers',NULL,'hills | cc0');
INSERT INTO "words" VALUES('0000000000000000000000000000001f','fixes','0000000000000000000000000000000a','fix-1 | 2026-01-02t03:04:05+00:00 | 0.1.0 | located');
INSERT INTO "words" VALUES('00000000000000000000000000000024','fix_inputs',NULL,'input-1 | plate 1987.12');
INSERT INTO "words" VALUES('00000000000000000000000000000025','proposed_positions','0000000000000000000000000000000a','proposed-1 | catalogue');
INSERT INTO "words" VALUES('00000000000000000000000000000028','decisions','0000000000000000000000000000000a','decision-1 | it fits. | ada moss | 2026-01-02t04:00:00+00:00');
INSERT INTO "words" VALUES('00000000000000000000000000000029','rights','0000000000000000000000000000000a','right-1 | unknown');
INSERT INTO "words" VALUES('0000000000000000000000000000002a','restrictions','0000000000000000000000000000000a','restriction-1 | garden');
INSERT INTO "words" VALUES('0000000000000000000000000000002b','notes','0000000000000000000000000000000a','note-1 | ask the museum');
INSERT INTO "words" VALUES('0000000000000000000000000000002c','settings',NULL,'columns');
INSERT INTO "words" VALUES('0000000000000000000000000000001d','leads','0000000000000000000000000000000a','lead-1 | rate book');
INSERT INTO "words" VALUES('00000000000000000000000000000016','marks','0000000000000000000000000000000a','a');
INSERT INTO "words" VALUES('0000000000000000000000000000000b','plans',NULL,'plan 1869');
CREATE INDEX ix_journal_act ON journal (act);
CREATE INDEX ix_journal_item_id ON journal (item_id);
CREATE INDEX ix_journal_plate_id ON journal (plate_id);
CREATE INDEX ix_journal_undoes ON journal (undoes);
CREATE INDEX ix_words_plate_id ON words (plate_id);
CREATE INDEX ix_makers_source_id ON makers (source_id);
CREATE INDEX ix_plans_source_id ON plans (source_id);
CREATE INDEX ix_terrain_layers_source_id ON terrain_layers (source_id);
CREATE INDEX ix_features_plan_id ON features (plan_id);
CREATE INDEX ix_features_existed_from_source_id ON features (existed_from_source_id);
CREATE INDEX ix_features_existed_to_source_id ON features (existed_to_source_id);
CREATE INDEX ix_features_source_id ON features (source_id);
CREATE INDEX ix_plates_maker_id ON plates (maker_id);
CREATE INDEX ix_plates_request_id ON plates (request_id);
CREATE INDEX ix_feature_names_feature_id ON feature_names (feature_id);
CREATE INDEX ix_feature_names_source_id ON feature_names (source_id);
CREATE INDEX ix_fixes_plate_id ON fixes (plate_id);
CREATE INDEX ix_leads_plate_id ON leads (plate_id);
CREATE INDEX ix_leads_source_id ON leads (source_id);
CREATE INDEX ix_leads_informant_id ON leads (informant_id);
CREATE INDEX ix_notes_about_id ON notes (about_id);
CREATE INDEX ix_notes_plate_id ON notes (plate_id);
CREATE INDEX ix_proposed_positions_plate_id ON proposed_positions (plate_id);
CREATE INDEX ix_proposed_positions_source_id ON proposed_positions (source_id);
CREATE INDEX ix_proposed_positions_informant_id ON proposed_positions (informant_id);
CREATE INDEX ix_restrictions_about_id ON restrictions (about_id);
CREATE INDEX ix_restrictions_plate_id ON restrictions (plate_id);
CREATE INDEX ix_rights_about_id ON rights (about_id);
CREATE INDEX ix_rights_plate_id ON rights (plate_id);
CREATE INDEX ix_scans_registered_to_id ON scans (registered_to_id);
CREATE INDEX ix_scans_plate_id ON scans (plate_id);
CREATE INDEX ix_statements_plate_id ON statements (plate_id);
CREATE INDEX ix_statements_source_id ON statements (source_id);
CREATE INDEX ix_statements_informant_id ON statements (informant_id);
CREATE INDEX ix_statements_feature_id ON statements (feature_id);
CREATE INDEX ix_dates_plate_id ON dates (plate_id);
CREATE INDEX ix_dates_source_id ON dates (source_id);
CREATE INDEX ix_dates_statement_id ON dates (statement_id);
CREATE INDEX ix_decisions_plate_id ON decisions (plate_id);
CREATE INDEX ix_decisions_fix_id ON decisions (fix_id);
CREATE INDEX ix_decisions_proposed_position_id ON decisions (proposed_position_id);
CREATE INDEX ix_decisions_supersedes_id ON decisions (supersedes_id);
CREATE INDEX ix_details_scan_id ON details (scan_id);
CREATE INDEX ix_details_feature_id ON details (feature_id);
CREATE INDEX ix_details_plate_id ON details (plate_id);
CREATE INDEX ix_evidence_scan_id ON evidence (scan_id);
CREATE INDEX ix_evidence_source_id ON evidence (source_id);
CREATE INDEX ix_evidence_plate_id ON evidence (plate_id);
CREATE INDEX ix_fix_inputs_fix_id ON fix_inputs (fix_id);
CREATE INDEX ix_marks_scan_id ON marks (scan_id);
CREATE INDEX ix_marks_detail_id ON marks (detail_id);
CREATE INDEX ix_marks_source_id ON marks (source_id);
CREATE INDEX ix_marks_plate_id ON marks (plate_id);
CREATE INDEX ix_fixes_place ON fixes (plate_id, removed, made, lat_deg, lon_deg);
CREATE INDEX ix_words_table_name ON words (table_name);
COMMIT;
