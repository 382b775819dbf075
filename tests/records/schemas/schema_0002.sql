-- Records as firstoff wrote them under this schema.
BEGIN TRANSACTION;
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0002');
CREATE TABLE edges (
	entry BIGINT NOT NULL, 
	position BIGINT NOT NULL, 
	parent TEXT, 
	child TEXT, 
	how TEXT, 
	time TEXT, 
	PRIMARY KEY (entry, position)
);
INSERT INTO "edges" VALUES(2,6,'lot:L1','part:L1/FO-01','is of',NULL);
CREATE TABLE entries (
	number BIGINT NOT NULL, 
	batch TEXT NOT NULL, 
	kind TEXT NOT NULL, 
	author TEXT NOT NULL, 
	time TEXT NOT NULL, 
	version TEXT NOT NULL, 
	note TEXT NOT NULL, 
	previous TEXT NOT NULL, 
	root TEXT NOT NULL, 
	row_count BIGINT NOT NULL, 
	public_key TEXT NOT NULL, 
	hash TEXT NOT NULL, 
	signature TEXT NOT NULL, 
	PRIMARY KEY (number), 
	UNIQUE (batch)
);
INSERT INTO "entries" VALUES(1,'dd9e464ce5aacdb949999c4f5dd509fe','launch','Berta Example','2026-11-25T18:30:37Z','0.1.0','LT3 front damper A','0000000000000000000000000000000000000000000000000000000000000000','a2b88ac1f2cfb5fdd3e77eb9f4101cb321fa3db9d65dcb88783b3870e15ca4f3',3,'dbec9064cdc166e93cc499e233e40523a9011a736fddce07bbc2bc14fddf2c67','528a0c09c4afe3a843496ba0eaf1d286f3aa64a0979353cf2565cddcf846d628','5c368a42be3835f3279d811b7131ec1b3c25956a96bfea4092b82f364a197be07a4a5c0679652ef6ee9b1a392a26e3f2d15fef8112f738ae17d9cec707dfe705');
INSERT INTO "entries" VALUES(2,'aed35e4fa3497c9c79908732bb4089b1','readings','Berta Example','2026-11-25T18:30:37Z','0.1.0','first-offs','528a0c09c4afe3a843496ba0eaf1d286f3aa64a0979353cf2565cddcf846d628','21cf524043cd1495a9d0e0a733332948e8935fd89bb0a466d6b706f2c23ce947',7,'dbec9064cdc166e93cc499e233e40523a9011a736fddce07bbc2bc14fddf2c67','245da98f00204135eff06bdcfed5ee0bef76c5736db94f4d50d00707fc75375d','c941cf01b9cec9a9fc3d5e39345f7fd79c319ab721c5181681e9bbe27c514f392e0181aec47c813a28c3829ecba9e3c72ee81cd8cc9ce5e45ef2c741c262be09');
CREATE TABLE items (
	entry BIGINT NOT NULL, 
	position BIGINT NOT NULL, 
	item TEXT, 
	kind TEXT, 
	name TEXT, 
	note TEXT, 
	PRIMARY KEY (entry, position)
);
INSERT INTO "items" VALUES(2,5,'lot:L1','lot','L1',NULL);
CREATE TABLE leaves (
	entry BIGINT NOT NULL, 
	chunk INTEGER NOT NULL, 
	hashes BLOB NOT NULL, 
	PRIMARY KEY (entry, chunk)
);
INSERT INTO "leaves" VALUES(1,0,X'9B262BFB937F4F76172BF307A5B3A9BF9FBF745CF8289D32E3E83C9457081388067DF473955C93740B217EEB84116516FC71DBE16D179222D3859F75A51215AB85A0730F695261DFC180F0266A6049634DCAE7D84D7FCD28E4C614C94A30F092');
INSERT INTO "leaves" VALUES(2,0,X'09427BFCDE8EF09EF5FE1771756CDB83AD21C0F6BF96EB4F655D490094D38C4A91A13EC9F0B04D059707A14B9BD014A1AF00F4001054232537B900EF6B0913E8CF2EF9E26D7F42A5D3E50427DD00556FE6410B4AF3F1EF044ED24139D892FCED75A445831AE012952916B02EB4FE5DE2A497FD6FC72EC4526DC11D08E11B87F27E9CBE711C1431811054F25CFE7E213F73632946F3B60A3781A5E05473CBC4E9937D895E94AAC654F54DB00E0BB3B5D0C7A69263CF41B9EEC58F615AF7404CC688A8953A64C22F51DDE0503403D8003F3A053AB62E5306B2B90EF3051F431EE3');
CREATE TABLE models (
	entry BIGINT NOT NULL, 
	position BIGINT NOT NULL, 
	model TEXT, 
	revision TEXT, 
	family TEXT, 
	plant TEXT, 
	sheet TEXT, 
	plant_sheet TEXT, 
	PRIMARY KEY (entry, position)
);
INSERT INTO "models" VALUES(1,1,'LT3 front damper','A','damper','Millbrook works','c40d83e83b4c285f971ec0d2e15eb7478079470ca057e6793ff0d2856a21bf37','');
CREATE TABLE people (
	entry BIGINT NOT NULL, 
	position BIGINT NOT NULL, 
	name TEXT, 
	public_key TEXT, 
	PRIMARY KEY (entry, position)
);
INSERT INTO "people" VALUES(1,2,'Berta Example','dbec9064cdc166e93cc499e233e40523a9011a736fddce07bbc2bc14fddf2c67');
CREATE TABLE readings (
	entry BIGINT NOT NULL, 
	position BIGINT NOT NULL, 
	trial BIGINT, 
	part TEXT, 
	lot TEXT, 
	place TEXT, 
	characteristic TEXT, 
	value DOUBLE, 
	unit TEXT, 
	gauge TEXT, 
	temperature DOUBLE, 
	time TEXT, 
	line BIGINT, 
	header TEXT, person TEXT, 
	PRIMARY KEY (entry, position)
);
INSERT INTO "readings" VALUES(2,1,0,'FO-01','L1',NULL,'rebound_0.52',1222.0,'N','damping rig 2',301.65,NULL,2,'rebound_0.52 [N]','Berta Example');
INSERT INTO "readings" VALUES(2,2,0,'FO-02','L1',NULL,'rebound_0.52',1191.0,'N','damping rig 2',301.65,NULL,3,'rebound_0.52 [N]','Berta Example');
INSERT INTO "readings" VALUES(2,3,0,'FO-03','L1',NULL,'rebound_0.52',1228.5,'N','damping rig 2',301.65,NULL,4,'rebound_0.52 [N]','Berta Example');
CREATE TABLE results (
	entry BIGINT NOT NULL, 
	position BIGINT NOT NULL, 
	kind TEXT, 
	model TEXT, 
	revision TEXT, 
	lot TEXT, 
	summary TEXT, 
	inputs TEXT, 
	content TEXT, 
	PRIMARY KEY (entry, position)
);
INSERT INTO "results" VALUES(2,4,'plan','LT3 front damper','A',NULL,'7 stations',NULL,'{}');
CREATE TABLE texts (
	entry BIGINT NOT NULL, 
	position BIGINT NOT NULL, 
	sha256 TEXT, 
	name TEXT, 
	role TEXT, 
	content BLOB, 
	PRIMARY KEY (entry, position)
);
INSERT INTO "texts" VALUES(1,0,'c40d83e83b4c285f971ec0d2e15eb7478079470ca057e6793ff0d2856a21bf37','damper.toml','model sheet',X'5B6D6F64656C5D0A6E616D65203D20224C54332066726F6E742064616D706572220A7265766973696F6E203D202241220A');
CREATE TABLE trials (
	entry BIGINT NOT NULL, 
	position BIGINT NOT NULL, 
	model TEXT, 
	revision TEXT, 
	sheet TEXT, 
	plant_sheet TEXT, 
	readings TEXT, 
	good TEXT, 
	PRIMARY KEY (entry, position)
);
INSERT INTO "trials" VALUES(2,0,'LT3 front damper','A','c40d83e83b4c285f971ec0d2e15eb7478079470ca057e6793ff0d2856a21bf37','','','');
CREATE INDEX texts_sha256 ON texts (sha256);
CREATE INDEX readings_part ON readings (part);
CREATE TRIGGER entries_no_update BEFORE UPDATE ON entries BEGIN SELECT RAISE(ABORT, 'the records are append-only'); END;
CREATE TRIGGER entries_no_delete BEFORE DELETE ON entries BEGIN SELECT RAISE(ABORT, 'the records are append-only'); END;
CREATE TRIGGER leaves_no_update BEFORE UPDATE ON leaves BEGIN SELECT RAISE(ABORT, 'the records are append-only'); END;
CREATE TRIGGER leaves_no_delete BEFORE DELETE ON leaves BEGIN SELECT RAISE(ABORT, 'the records are append-only'); END;
CREATE TRIGGER texts_no_update BEFORE UPDATE ON texts BEGIN SELECT RAISE(ABORT, 'the records are append-only'); END;
CREATE TRIGGER texts_no_delete BEFORE DELETE ON texts BEGIN SELECT RAISE(ABORT, 'the records are append-only'); END;
CREATE TRIGGER readings_no_update BEFORE UPDATE ON readings BEGIN SELECT RAISE(ABORT, 'the records are append-only'); END;
CREATE TRIGGER readings_no_delete BEFORE DELETE ON readings BEGIN SELECT RAISE(ABORT, 'the records are append-only'); END;
CREATE TRIGGER people_no_update BEFORE UPDATE ON people BEGIN SELECT RAISE(ABORT, 'the records are append-only'); END;
CREATE TRIGGER people_no_delete BEFORE DELETE ON people BEGIN SELECT RAISE(ABORT, 'the records are append-only'); END;
CREATE TRIGGER models_no_update BEFORE UPDATE ON models BEGIN SELECT RAISE(ABORT, 'the records are append-only'); END;
CREATE TRIGGER models_no_delete BEFORE DELETE ON models BEGIN SELECT RAISE(ABORT, 'the records are append-only'); END;
CREATE TRIGGER trials_no_update BEFORE UPDATE ON trials BEGIN SELECT RAISE(ABORT, 'the records are append-only'); END;
CREATE TRIGGER trials_no_delete BEFORE DELETE ON trials BEGIN SELECT RAISE(ABORT, 'the records are append-only'); END;
CREATE TRIGGER results_no_update BEFORE UPDATE ON results BEGIN SELECT RAISE(ABORT, 'the records are append-only'); END;
CREATE TRIGGER results_no_delete BEFORE DELETE ON results BEGIN SELECT RAISE(ABORT, 'the records are append-only'); END;
CREATE INDEX items_item ON items (item);
CREATE INDEX items_name ON items (name);
CREATE INDEX edges_down ON edges (parent, child);
CREATE INDEX edges_up ON edges (child, parent);
CREATE TRIGGER items_no_update BEFORE UPDATE ON items BEGIN SELECT RAISE(ABORT, 'the records are append-only'); END;
CREATE TRIGGER items_no_delete BEFORE DELETE ON items BEGIN SELECT RAISE(ABORT, 'the records are append-only'); END;
CREATE TRIGGER edges_no_update BEFORE UPDATE ON edges BEGIN SELECT RAISE(ABORT, 'the records are append-only'); END;
CREATE TRIGGER edges_no_delete BEFORE DELETE ON edges BEGIN SELECT RAISE(ABORT, 'the records are append-only'); END;
COMMIT;
