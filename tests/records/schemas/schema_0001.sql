-- Records as firstoff wrote them under this schema.
BEGIN TRANSACTION;
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0001');
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
INSERT INTO "entries" VALUES(1,'87bf7279e8992127925d1268242fa354','launch','Berta Example','2026-11-25T18:30:31Z','0.1.0','LT3 front damper A','0000000000000000000000000000000000000000000000000000000000000000','cf8f49c2181ea8cc93a021aa2a039362c313c4bffe5b83e2040d7a711ace8a3f',3,'9b1e5a384373a246349eb88261be64442a6b2849c0e1cd8c2482211ddd07823f','4d0ecb0322e30cb1a755dc4ed28b72479d3c1949674d13c91aca0db931caba3a','b303dab90be1bb36caff4d5bf7bc23a31f79498120871e77ebcdcf70e40a204b913c16e38d809c540b385ed756d7329d0d175012ad545a2b674315fb328bf801');
INSERT INTO "entries" VALUES(2,'a01b92be4866c9db1c47fa61c9514d9f','readings','Berta Example','2026-11-25T18:30:31Z','0.1.0','first-offs','4d0ecb0322e30cb1a755dc4ed28b72479d3c1949674d13c91aca0db931caba3a','4ec90afc3b95e7ddfef78adcea07536bf3ea62df19b7295d9b0f4350b72d3a92',5,'9b1e5a384373a246349eb88261be64442a6b2849c0e1cd8c2482211ddd07823f','8b5350b974bdbd7d5be1a7200d09195fe64333b1fd3829b7007a72ca6f336ca4','b08604837c3f2e2dc2e1918e8aebb63528c386f864cf17e0d84f30c30f8ead477ca46db47e5ced312cc7494c17f82e91b25e5e239921ab4586f7764aedccfa00');
CREATE TABLE leaves (
	entry BIGINT NOT NULL, 
	chunk INTEGER NOT NULL, 
	hashes BLOB NOT NULL, 
	PRIMARY KEY (entry, chunk)
);
INSERT INTO "leaves" VALUES(1,0,X'9B262BFB937F4F76172BF307A5B3A9BF9FBF745CF8289D32E3E83C9457081388067DF473955C93740B217EEB84116516FC71DBE16D179222D3859F75A51215AB6DC00F21C4BCF5BAB28CE373B1E3043153F9A4F9484A6181C4420ADB18D29E50');
INSERT INTO "leaves" VALUES(2,0,X'09427BFCDE8EF09EF5FE1771756CDB83AD21C0F6BF96EB4F655D490094D38C4AC13B43072498186493AD8C9F60EC0AE18EC1738833CE7A719E89C62DC4B889FE84630DDCAB3ABCE06F509C8A35848C8A51F4694A101721B85E1F828B5A6C5B9D90EA74C36844F04FE41CF657C6B775107D298E8D1B829F85A7ED80DFF3AEEC307E9CBE711C1431811054F25CFE7E213F73632946F3B60A3781A5E05473CBC4E9');
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
INSERT INTO "people" VALUES(1,2,'Berta Example','9b1e5a384373a246349eb88261be64442a6b2849c0e1cd8c2482211ddd07823f');
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
	header TEXT, 
	PRIMARY KEY (entry, position)
);
INSERT INTO "readings" VALUES(2,1,0,'FO-01','L1',NULL,'rebound_0.52',1222.0,'N','damping rig 2',301.65,NULL,2,'rebound_0.52 [N]');
INSERT INTO "readings" VALUES(2,2,0,'FO-02','L1',NULL,'rebound_0.52',1191.0,'N','damping rig 2',301.65,NULL,3,'rebound_0.52 [N]');
INSERT INTO "readings" VALUES(2,3,0,'FO-03','L1',NULL,'rebound_0.52',1228.5,'N','damping rig 2',301.65,NULL,4,'rebound_0.52 [N]');
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
COMMIT;
