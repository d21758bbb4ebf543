BEGIN TRANSACTION;
CREATE TABLE account (
	id TEXT NOT NULL,
	role TEXT,
	hashed TEXT NOT NULL,
	secret TEXT,
	since_ms INTEGER NOT NULL,
	code_step INTEGER NOT NULL,
	ended_ms INTEGER,
	PRIMARY KEY (id)
)
 STRICT

;
CREATE TABLE act (
	no INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
	at_ms INTEGER NOT NULL,
	who TEXT NOT NULL,
	kind TEXT NOT NULL,
	pour TEXT,
	body TEXT NOT NULL
)
 STRICT

;
INSERT INTO "act" VALUES(1,1795435200000,'super','pour_start','2-b1-p1','{"at":"2026-11-23T12:00:00Z","bay":"2-b1","kind":"pour_start","pour":"2-b1-p1","scripted":false,"who":"super"}');
INSERT INTO "act" VALUES(2,1795438800000,'super','pour_end','2-b1-p1','{"at":"2026-11-23T13:00:00Z","kind":"pour_end","pour":"2-b1-p1","scripted":false,"who":"super"}');
CREATE TABLE alembic_version (version_num VARCHAR(32) NOT NULL, CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num));
INSERT INTO "alembic_version" VALUES('starts_before');
CREATE TABLE arrival (
	sensor TEXT NOT NULL,
	revision INTEGER NOT NULL,
	newest_ms INTEGER NOT NULL,
	newest_received_ms INTEGER NOT NULL,
	rewritten INTEGER DEFAULT '0' NOT NULL,
	PRIMARY KEY (sensor)
)
 STRICT

;
INSERT INTO "arrival" VALUES('lg-01.1',121,1795543200000,1795543201000,1);
INSERT INTO "arrival" VALUES('lg-01.2',121,1795543200000,1795543201000,1);
INSERT INTO "arrival" VALUES('lg-09.1',121,1795543200000,1795543201000,1);
CREATE TABLE calibration (
	mix TEXT NOT NULL,
	version INTEGER NOT NULL,
	digest TEXT NOT NULL,
	body TEXT NOT NULL,
	PRIMARY KEY (mix, version)
)
 STRICT

;
INSERT INTO "calibration" VALUES('c32-f',1,'a956009176b7637c40d0547c766143198979297ccf7e59eef341c43fdad4bd88','{"activation_energy_from_c":null,"activation_energy_kj_per_mol":null,"activation_energy_sd_kj_per_mol":null,"activation_energy_to_c":null,"covariance":[[0.9,0.05,0.001],[0.05,0.4,0.0002],[0.001,0.0002,0.0004]],"curve":"exponential","degrees_of_freedom":12,"digest":null,"fit_for":"release","law":null,"made_on":"2026-10-05","mix":"c32-f","parameters":{"beta":0.85,"su_mpa":38.0,"tau_h":22.0},"tested_from_h":9.0,"tested_to_h":700.0,"valid_until":null,"version":1}');
CREATE TABLE clock_span (
	no INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
	boot TEXT NOT NULL,
	from_ms INTEGER NOT NULL,
	from_boot_ms INTEGER NOT NULL,
	to_ms INTEGER NOT NULL,
	to_boot_ms INTEGER NOT NULL,
	synchronised INTEGER NOT NULL
)
 STRICT

;
INSERT INTO "clock_span" VALUES(2,'simulated-1795435200000',1795435200000,0,1795435200000,0,1);
CREATE TABLE "conflict" (
	no INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
	sensor TEXT NOT NULL,
	taken_ms INTEGER NOT NULL,
	kept_milli_c INTEGER NOT NULL,
	other_milli_c INTEGER NOT NULL,
	received_ms INTEGER NOT NULL,
	CONSTRAINT conflict_once UNIQUE (sensor, taken_ms, kept_milli_c, other_milli_c)
)
 STRICT

;
CREATE TABLE delivery (
	no INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
	message INTEGER NOT NULL,
	recipient TEXT NOT NULL,
	channel INTEGER NOT NULL,
	state TEXT NOT NULL,
	attempt INTEGER NOT NULL,
	next_ms INTEGER NOT NULL,
	lease_until_ms INTEGER,
	lease_token TEXT,
	called_ms INTEGER,
	outcome TEXT NOT NULL,
	was_unsure INTEGER NOT NULL,
	again INTEGER NOT NULL,
	accepted_ms INTEGER,
	was_accepted INTEGER NOT NULL,
	CONSTRAINT delivery_once UNIQUE (message, recipient, channel),
	FOREIGN KEY(message) REFERENCES message (no)
)
 STRICT

;
INSERT INTO "delivery" VALUES(1,1,'super',0,'accepted',1,1795543501000,NULL,NULL,1795543201000,'recorded',0,0,1795543201000,1);
INSERT INTO "delivery" VALUES(2,1,'super',1,'accepted',1,1795543501000,NULL,NULL,1795543201000,'recorded',0,0,1795543201000,1);
INSERT INTO "delivery" VALUES(3,1,'qc-one',0,'accepted',1,1795543501000,NULL,NULL,1795543201000,'recorded',0,0,1795543201000,1);
INSERT INTO "delivery" VALUES(4,2,'super',0,'accepted',1,1795543501000,NULL,NULL,1795543201000,'recorded',0,0,1795543201000,1);
INSERT INTO "delivery" VALUES(5,2,'super',1,'accepted',1,1795543501000,NULL,NULL,1795543201000,'recorded',0,0,1795543201000,1);
INSERT INTO "delivery" VALUES(6,2,'qc-one',0,'accepted',1,1795543501000,NULL,NULL,1795543201000,'recorded',0,0,1795543201000,1);
CREATE TABLE device (
	no INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
	digest TEXT NOT NULL,
	name TEXT NOT NULL,
	who TEXT NOT NULL,
	since_ms INTEGER NOT NULL,
	ended_ms INTEGER,
	CONSTRAINT device_once UNIQUE (digest)
)
 STRICT

;
CREATE TABLE document (
	no INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
	name TEXT NOT NULL,
	reference TEXT NOT NULL,
	bay TEXT,
	pour TEXT,
	who TEXT NOT NULL,
	at_ms INTEGER NOT NULL
)
 STRICT

;
CREATE TABLE doubt (
	kind TEXT NOT NULL,
	since_ms INTEGER NOT NULL,
	reason TEXT NOT NULL,
	PRIMARY KEY (kind)
)
 STRICT

;
CREATE TABLE forecast (
	no INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
	pour TEXT NOT NULL,
	operation TEXT NOT NULL,
	mix TEXT NOT NULL,
	made_ms INTEGER NOT NULL,
	through_ms INTEGER NOT NULL,
	horizon_ms INTEGER NOT NULL,
	low_ms INTEGER,
	middle_ms INTEGER,
	high_ms INTEGER,
	widened REAL NOT NULL,
	levels TEXT NOT NULL,
	scored_ms INTEGER,
	outcome TEXT,
	found_ms INTEGER,
	crps_h REAL,
	CONSTRAINT forecast_once UNIQUE (pour, operation, made_ms),
	FOREIGN KEY(pour) REFERENCES pour (id)
)
 STRICT

;
CREATE TABLE gate (
	pour TEXT NOT NULL,
	operation TEXT NOT NULL,
	state TEXT NOT NULL,
	epoch INTEGER NOT NULL,
	changed_ms INTEGER NOT NULL,
	reason TEXT NOT NULL,
	steady_from_ms INTEGER,
	snapshot TEXT,
	signers TEXT NOT NULL,
	"before" TEXT,
	PRIMARY KEY (pour, operation),
	FOREIGN KEY(pour) REFERENCES pour (id),
	FOREIGN KEY(snapshot) REFERENCES snapshot (digest)
)
 STRICT

;
INSERT INTO "gate" VALUES('2-b1-p1','strip','met',1,1795536001000,'requirement met',NULL,'9794a154ce986a568e790d9933301c8d2140fd889106519a87e89df919640415','[]',NULL);
INSERT INTO "gate" VALUES('2-b1-p1','walk','met',1,1795536001000,'requirement met',NULL,'be76c7cc6669e8315ade29cfb3816d31df0ea4cb63146f0a4f0b2b99143c4eb3','[]',NULL);
INSERT INTO "gate" VALUES('2-b1-p1','load','curing',0,1795438800000,'set-up complete',NULL,NULL,'[]',NULL);
CREATE TABLE hand_reading (
	no INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
	pour TEXT NOT NULL,
	taken_ms INTEGER NOT NULL,
	milli_c INTEGER NOT NULL,
	position TEXT NOT NULL,
	zone TEXT,
	under_insulation INTEGER NOT NULL,
	who TEXT NOT NULL,
	FOREIGN KEY(pour) REFERENCES pour (id)
)
 STRICT

;
CREATE TABLE heard (
	logger TEXT NOT NULL,
	heard_ms INTEGER NOT NULL,
	boot TEXT,
	sequence INTEGER,
	battery_percent REAL,
	signal_db REAL,
	PRIMARY KEY (logger)
)
 STRICT

;
CREATE TABLE hold (
	pour TEXT NOT NULL,
	kind TEXT NOT NULL,
	since_ms INTEGER NOT NULL,
	owner TEXT NOT NULL,
	reason TEXT NOT NULL,
	how TEXT NOT NULL,
	PRIMARY KEY (pour, kind),
	FOREIGN KEY(pour) REFERENCES pour (id)
)
 STRICT

;
CREATE TABLE invitation (
	digest TEXT NOT NULL,
	person TEXT,
	role TEXT,
	who TEXT NOT NULL,
	since_ms INTEGER NOT NULL,
	until_ms INTEGER NOT NULL,
	PRIMARY KEY (digest)
)
 STRICT

;
CREATE TABLE kept_answer (
	token INTEGER NOT NULL,
	"key" TEXT NOT NULL,
	asked TEXT NOT NULL,
	at_ms INTEGER NOT NULL,
	status INTEGER,
	body TEXT,
	PRIMARY KEY (token, "key"),
	FOREIGN KEY(token) REFERENCES token (no)
)
 STRICT

;
CREATE TABLE log (
	seq INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
	at_ms INTEGER NOT NULL,
	who TEXT NOT NULL,
	what TEXT NOT NULL,
	body TEXT NOT NULL,
	prev TEXT NOT NULL,
	hash TEXT NOT NULL
)
 STRICT

;
INSERT INTO "log" VALUES(1,1795435200000,'slabhour','setup','{"digest":"e694756681618660aa4f97a2b7f1183c760831d5d976983b2500774f6b728704","version":1}','0000000000000000000000000000000000000000000000000000000000000000','4f8c832799b5b1eb003183ad728ba15732948edb407735934faade62d3e38cd4');
INSERT INTO "log" VALUES(2,1795435200000,'super','act','{"at":"2026-11-23T12:00:00Z","bay":"2-b1","kind":"pour_start","pour":"2-b1-p1","scripted":false,"who":"super"}','4f8c832799b5b1eb003183ad728ba15732948edb407735934faade62d3e38cd4','49cebf2691b183c4808586d3945cdb93fc0499bd1be120906e681f1cfdf4af8e');
INSERT INTO "log" VALUES(3,1795438800000,'slabhour','gate','{"epoch":0,"evidence_ms":null,"found":["required sensors alive: yes - not met","counted hours at or above 5.0 °C (41.0 °F): not known, needs 24.0 h - not met","coldest through the last 1 h: not known, needs 5.0 °C (41.0 °F) - not met","lower bound of strength: not known, needs 3.5 MPa (508 psi) - not met"],"from":"not set up","operation":"strip","pour":"2-b1-p1","reason":"set-up complete","to":"curing"}','49cebf2691b183c4808586d3945cdb93fc0499bd1be120906e681f1cfdf4af8e','a071d8fffc2c2c65cbfe75506aaf9faee4551c0880c6e6acd1caf97dc3ffa7ff');
INSERT INTO "log" VALUES(4,1795438800000,'slabhour','gate','{"epoch":0,"evidence_ms":null,"found":["required sensors alive: yes - not met","counted hours at or above 5.0 °C (41.0 °F): not known, needs 24.0 h - not met","coldest through the last 1 h: not known, needs 5.0 °C (41.0 °F) - not met","lower bound of strength: not known, needs 3.5 MPa (508 psi) - not met","strip under way below or beside: none, needs none - met"],"from":"not set up","operation":"walk","pour":"2-b1-p1","reason":"set-up complete","to":"curing"}','a071d8fffc2c2c65cbfe75506aaf9faee4551c0880c6e6acd1caf97dc3ffa7ff','a1143c220d00a4e353f9be7e39dc53f6731246c3f2a95cc3f7a2981ded0077e4');
INSERT INTO "log" VALUES(5,1795438800000,'slabhour','gate','{"epoch":0,"evidence_ms":null,"found":["required sensors alive: yes - not met","strip: not done, needs done - not met","lower bound of strength: not known, needs 7.0 MPa (1016 psi) - not met","construction load: 1.0 kPa (20 psf) - met","strip under way below or beside: none, needs none - met"],"from":"not set up","operation":"load","pour":"2-b1-p1","reason":"set-up complete","to":"curing"}','a1143c220d00a4e353f9be7e39dc53f6731246c3f2a95cc3f7a2981ded0077e4','9c6d2982dedda296dee8b1a1521b9e17429ef382d992c6f6c1845d7b2cb7745b');
INSERT INTO "log" VALUES(6,1795438800000,'super','act','{"at":"2026-11-23T13:00:00Z","kind":"pour_end","pour":"2-b1-p1","scripted":false,"who":"super"}','9c6d2982dedda296dee8b1a1521b9e17429ef382d992c6f6c1845d7b2cb7745b','99461e08c9ae86e964f1f9577ac901ad8fd87600fc2a1438bf9ae07ff7494a71');
INSERT INTO "log" VALUES(7,1795536001000,'slabhour','gate','{"epoch":1,"evidence_ms":1795536000000,"found":["required sensors alive: yes - met","counted hours at or above 5.0 °C (41.0 °F): 27.0 h, needs 24.0 h - met","coldest through the last 1 h: 18.0 °C (64.4 °F), needs 5.0 °C (41.0 °F) - met","lower bound of strength: 12.0 MPa (1743 psi), needs 3.5 MPa (508 psi) - met"],"from":"curing","hours":{"cold_h":0.0,"plan_ms":1795525200000,"unread_h":0.0},"operation":"strip","pour":"2-b1-p1","reason":"requirement met","to":"met"}','99461e08c9ae86e964f1f9577ac901ad8fd87600fc2a1438bf9ae07ff7494a71','72fe5744fc66e12b82257567386b8f2154188ef9784f2a69086301dcb5e3b014');
INSERT INTO "log" VALUES(8,1795536001000,'slabhour','gate','{"epoch":1,"evidence_ms":1795536000000,"found":["required sensors alive: yes - met","counted hours at or above 5.0 °C (41.0 °F): 27.0 h, needs 24.0 h - met","coldest through the last 1 h: 18.0 °C (64.4 °F), needs 5.0 °C (41.0 °F) - met","lower bound of strength: 12.0 MPa (1743 psi), needs 3.5 MPa (508 psi) - met","strip under way below or beside: none, needs none - met"],"from":"curing","hours":{"cold_h":0.0,"plan_ms":1795525200000,"unread_h":0.0},"operation":"walk","pour":"2-b1-p1","reason":"requirement met","to":"met"}','72fe5744fc66e12b82257567386b8f2154188ef9784f2a69086301dcb5e3b014','3a89fa71ef02b1263eca58af5e1eaaccb9af91c1844b8fe472fba77d87cc0054');
INSERT INTO "log" VALUES(9,1795536001000,'slabhour','message','{"epoch":1,"kind":"sign-off wanted","no":1,"pour":"2-b1-p1","subject":"strip"}','3a89fa71ef02b1263eca58af5e1eaaccb9af91c1844b8fe472fba77d87cc0054','3fdbd47cd024ac1796ca987b66937d0653ff1849708fa4d007238a5995acfef8');
INSERT INTO "log" VALUES(10,1795536001000,'slabhour','message','{"epoch":1,"kind":"sign-off wanted","no":2,"pour":"2-b1-p1","subject":"walk"}','3fdbd47cd024ac1796ca987b66937d0653ff1849708fa4d007238a5995acfef8','b0375a9895be4dd2595a94bc9a48c88b4f6035b6865deef0180622730b4b8813');
INSERT INTO "log" VALUES(11,1795543201000,'alerts','delivery','{"attempt":1,"channel":0,"message":1,"outcome":"","recipient":"super","state":"calling"}','b0375a9895be4dd2595a94bc9a48c88b4f6035b6865deef0180622730b4b8813','09bdb5d0174c3bc9a7b122c721a66ab889a43ba571347c9131a62d1388d850e4');
INSERT INTO "log" VALUES(12,1795543201000,'alerts','delivery','{"attempt":1,"channel":0,"message":2,"outcome":"","recipient":"super","state":"calling"}','09bdb5d0174c3bc9a7b122c721a66ab889a43ba571347c9131a62d1388d850e4','8d08932fb5237f28ce3cc69666697c032a0a6de12c99315f47c8cbebcd2b1b4a');
INSERT INTO "log" VALUES(13,1795543201000,'alerts','delivery','{"attempt":1,"channel":0,"message":1,"outcome":"recorded","recipient":"super","state":"accepted"}','8d08932fb5237f28ce3cc69666697c032a0a6de12c99315f47c8cbebcd2b1b4a','7b1e0010bd965a703af2a2bdcdb82e8e21f05a5252e2793bde7b2eafb329be84');
INSERT INTO "log" VALUES(14,1795543201000,'alerts','delivery','{"attempt":1,"channel":0,"message":2,"outcome":"recorded","recipient":"super","state":"accepted"}','7b1e0010bd965a703af2a2bdcdb82e8e21f05a5252e2793bde7b2eafb329be84','6800c7ca1488c83879072e64d04ce04ece4efc830564bfc47994937a66531933');
INSERT INTO "log" VALUES(15,1795543201000,'alerts','delivery','{"attempt":1,"channel":1,"message":1,"outcome":"","recipient":"super","state":"calling"}','6800c7ca1488c83879072e64d04ce04ece4efc830564bfc47994937a66531933','3d27f362f0606435339119cbaef673475117f9aeee9618577916cb1ab6b9d349');
INSERT INTO "log" VALUES(16,1795543201000,'alerts','delivery','{"attempt":1,"channel":1,"message":2,"outcome":"","recipient":"super","state":"calling"}','3d27f362f0606435339119cbaef673475117f9aeee9618577916cb1ab6b9d349','f66b56a8b45195f46063bec8b91b7827463abc34995362e59f6e35cded6eae5b');
INSERT INTO "log" VALUES(17,1795543201000,'alerts','delivery','{"attempt":1,"channel":1,"message":1,"outcome":"recorded","recipient":"super","state":"accepted"}','f66b56a8b45195f46063bec8b91b7827463abc34995362e59f6e35cded6eae5b','e5f455bf37e95d6df09e14c849cbf74b6be432a1a7a653b834919c3a20fcb02d');
INSERT INTO "log" VALUES(18,1795543201000,'alerts','delivery','{"attempt":1,"channel":1,"message":2,"outcome":"recorded","recipient":"super","state":"accepted"}','e5f455bf37e95d6df09e14c849cbf74b6be432a1a7a653b834919c3a20fcb02d','0283081c5fd2cbf74162683873ac38b8e6bb3a0b516a0522b5241ff9f6ddfbaa');
INSERT INTO "log" VALUES(19,1795543201000,'alerts','delivery','{"attempt":1,"channel":0,"message":1,"outcome":"","recipient":"qc-one","state":"calling"}','0283081c5fd2cbf74162683873ac38b8e6bb3a0b516a0522b5241ff9f6ddfbaa','3eaf2bb780caf863818d06db12e4de17eeeb6185b50f70619843dc74f514dfd7');
INSERT INTO "log" VALUES(20,1795543201000,'alerts','delivery','{"attempt":1,"channel":0,"message":2,"outcome":"","recipient":"qc-one","state":"calling"}','3eaf2bb780caf863818d06db12e4de17eeeb6185b50f70619843dc74f514dfd7','8c4650bf81eddb396d4d5042f3029d4d2b213a804887182537fed6214bbd5828');
INSERT INTO "log" VALUES(21,1795543201000,'alerts','delivery','{"attempt":1,"channel":0,"message":1,"outcome":"recorded","recipient":"qc-one","state":"accepted"}','8c4650bf81eddb396d4d5042f3029d4d2b213a804887182537fed6214bbd5828','b30aeac4937a6b4926c718f53c12abf5b2936d725f1feb18b27c2db3655c7853');
INSERT INTO "log" VALUES(22,1795543201000,'alerts','delivery','{"attempt":1,"channel":0,"message":2,"outcome":"recorded","recipient":"qc-one","state":"accepted"}','b30aeac4937a6b4926c718f53c12abf5b2936d725f1feb18b27c2db3655c7853','915164e0cff34f799a7a461cd655b5f5e60112d7c9163fe1325819fefd7b458b');
CREATE TABLE message (
	no INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
	kind TEXT NOT NULL,
	pour TEXT NOT NULL,
	subject TEXT NOT NULL,
	epoch INTEGER NOT NULL,
	at_ms INTEGER NOT NULL,
	valid_until_ms INTEGER,
	facts TEXT NOT NULL,
	routed INTEGER NOT NULL,
	log_seq INTEGER NOT NULL,
	log_hash TEXT NOT NULL,
	CONSTRAINT message_once UNIQUE (pour, subject, epoch, kind)
)
 STRICT

;
INSERT INTO "message" VALUES(1,'sign-off wanted','2-b1-p1','strip',1,1795536001000,1795640400000,'{"bay":"2-b1","chart":{"bound_mpa":[0.0,0.0,0.0,0.0,0.0,0.0,0.0,0.0,0.0,2.6,3.4,4.4,5.1,6.0,6.7,7.6,8.2,8.9,9.5,10.2,10.6,11.1,11.5,12.0],"coldest_c":[18.0,18.0,18.0,18.0,18.0,18.0,18.0,18.0,18.0,18.0,18.0,18.0,18.0,18.0,18.0,18.0,18.0,18.0,18.0,18.0,18.0,18.0,18.0,18.0],"hours":[1.1,2.2,3.4,4.5,5.6,6.8,7.9,9.0,10.1,11.2,12.4,13.5,14.6,15.8,16.9,18.0,19.1,20.2,21.4,22.5,23.6,24.8,25.9,27.0],"limit_mpa":3.5},"exclusions":"none","findings":["required sensors alive: yes - met","counted hours at or above 5.0 °C (41.0 °F): 27.0 h, needs 24.0 h - met","coldest through the last 1 h: 18.0 °C (64.4 °F), needs 5.0 °C (41.0 °F) - met","lower bound of strength: 12.0 MPa (1743 psi), needs 3.5 MPa (508 psi) - met"],"floor":"2","hour_ms":1795536001000,"not_released":["strip","walk","load"],"operation":"strip","pour":"2-b1-p1","requirement":"24 counted hours at or above 5.0 °C (41.0 °F); at or above 5.0 °C (41.0 °F) through the last 1 h; lower bound of strength 3.5 MPa (508 psi)","requirement_version":"plan common-practice","roles":["superintendent","qc","engineer"],"sign_command":"slabhour sign --who YOU 2-b1-p1 strip","sign_offs":1,"site":"Millrace House","site_id":"millrace","snapshot":"9794a154ce986a568e790d9933301c8d2140fd889106519a87e89df919640415","units":"SI","zone":"America/Halifax"}',1,9,'3fdbd47cd024ac1796ca987b66937d0653ff1849708fa4d007238a5995acfef8');
INSERT INTO "message" VALUES(2,'sign-off wanted','2-b1-p1','walk',1,1795536001000,1795640400000,'{"bay":"2-b1","chart":{"bound_mpa":[0.0,0.0,0.0,0.0,0.0,0.0,0.0,0.0,0.0,2.6,3.4,4.4,5.1,6.0,6.7,7.6,8.2,8.9,9.5,10.2,10.6,11.1,11.5,12.0],"coldest_c":[18.0,18.0,18.0,18.0,18.0,18.0,18.0,18.0,18.0,18.0,18.0,18.0,18.0,18.0,18.0,18.0,18.0,18.0,18.0,18.0,18.0,18.0,18.0,18.0],"hours":[1.1,2.2,3.4,4.5,5.6,6.8,7.9,9.0,10.1,11.2,12.4,13.5,14.6,15.8,16.9,18.0,19.1,20.2,21.4,22.5,23.6,24.8,25.9,27.0],"limit_mpa":3.5},"exclusions":"none","findings":["required sensors alive: yes - met","counted hours at or above 5.0 °C (41.0 °F): 27.0 h, needs 24.0 h - met","coldest through the last 1 h: 18.0 °C (64.4 °F), needs 5.0 °C (41.0 °F) - met","lower bound of strength: 12.0 MPa (1743 psi), needs 3.5 MPa (508 psi) - met","strip under way below or beside: none, needs none - met"],"floor":"2","hour_ms":1795536001000,"not_released":["strip","walk","load"],"operation":"walk","pour":"2-b1-p1","requirement":"24 counted hours at or above 5.0 °C (41.0 °F); at or above 5.0 °C (41.0 °F) through the last 1 h; lower bound of strength 3.5 MPa (508 psi); no strip under way below or beside","requirement_version":"plan common-practice","roles":["superintendent","qc","engineer"],"sign_command":"slabhour sign --who YOU 2-b1-p1 walk","sign_offs":1,"site":"Millrace House","site_id":"millrace","snapshot":"be76c7cc6669e8315ade29cfb3816d31df0ea4cb63146f0a4f0b2b99143c4eb3","units":"SI","zone":"America/Halifax"}',1,10,'b0375a9895be4dd2595a94bc9a48c88b4f6035b6865deef0180622730b4b8813');
CREATE TABLE placement (
	no INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
	sensor TEXT NOT NULL,
	bay TEXT NOT NULL,
	zone TEXT NOT NULL,
	depth_mm INTEGER,
	interval_s INTEGER NOT NULL,
	required INTEGER NOT NULL,
	from_ms INTEGER NOT NULL,
	to_ms INTEGER,
	position TEXT,
	who TEXT
)
 STRICT

;
INSERT INTO "placement" VALUES(1,'lg-01.1','2-b1','exposed edge',50,900,1,0,NULL,NULL,NULL);
INSERT INTO "placement" VALUES(2,'lg-01.2','2-b1','interior',NULL,900,1,0,NULL,NULL,NULL);
INSERT INTO "placement" VALUES(3,'lg-09.1','2-b1','air',NULL,900,1,0,NULL,NULL,NULL);
INSERT INTO "placement" VALUES(4,'lg-02.1','2-b2','last-placed end',NULL,900,1,0,NULL,NULL,NULL);
CREATE TABLE pour (
	id TEXT NOT NULL,
	bay TEXT NOT NULL,
	mix TEXT NOT NULL,
	start_ms INTEGER NOT NULL,
	end_ms INTEGER,
	closed_ms INTEGER,
	calibration_version INTEGER,
	touched INTEGER NOT NULL,
	PRIMARY KEY (id)
)
 STRICT

;
INSERT INTO "pour" VALUES('2-b1-p1','2-b1','c32-f',1795435200000,1795438800000,NULL,1,1);
CREATE TABLE pour_state (
	pour TEXT NOT NULL,
	as_of_ms INTEGER NOT NULL,
	input_revision INTEGER NOT NULL,
	next_due_ms INTEGER NOT NULL,
	code TEXT NOT NULL,
	estimate TEXT,
	verdicts TEXT NOT NULL,
	memory TEXT NOT NULL,
	PRIMARY KEY (pour),
	FOREIGN KEY(pour) REFERENCES pour (id)
)
 STRICT

;
INSERT INTO "pour_state" VALUES('2-b1-p1',1795543201000,363,1795545900001,'0.1.0','{"age_h":29.00027777777778,"coldest_c":18.0,"counted_h":{"5":29.0},"equivalent_age_h":25.79883565023436,"error_budget_mpa":{"batch":2.0333826240801884,"calibration":0.6815328213558229,"clock":0.14728985025058172,"sensor":0.44722489570383345,"setting":0.6016243289812131,"temperature law":0.43788001321011905},"evidence_ms":1795543200000,"governing_sensor":"lg-01.1","lower_bound_mpa":12.69325513697044,"sensors":[{"credited":117,"kept":[{"from_ms":1795435200000,"readings":4,"reason":"before the end of the pour","to_ms":1795437900000}],"refused":{},"sensor":"lg-01.1"},{"credited":117,"kept":[{"from_ms":1795435200000,"readings":4,"reason":"before the end of the pour","to_ms":1795437900000}],"refused":{},"sensor":"lg-01.2"}],"strength_mpa":15.866568921213048,"temperature_time_c_h":522.0}','[{"findings":[{"found":"yes","lasting":false,"limit":null,"met":true,"rule":"required sensors alive","unit":""},{"found":29.0,"lasting":true,"limit":24.0,"met":true,"rule":"counted hours at or above 5.0 °C (41.0 °F)","unit":"h"},{"found":18.0,"lasting":false,"limit":5.0,"met":true,"rule":"coldest through the last 1 h","unit":"degC"},{"found":12.69325513697044,"lasting":true,"limit":3.5,"met":true,"rule":"lower bound of strength","unit":"MPa"}],"met":true,"missing":[],"operation":"strip"},{"findings":[{"found":"yes","lasting":false,"limit":null,"met":true,"rule":"required sensors alive","unit":""},{"found":29.0,"lasting":true,"limit":24.0,"met":true,"rule":"counted hours at or above 5.0 °C (41.0 °F)","unit":"h"},{"found":18.0,"lasting":false,"limit":5.0,"met":true,"rule":"coldest through the last 1 h","unit":"degC"},{"found":12.69325513697044,"lasting":true,"limit":3.5,"met":true,"rule":"lower bound of strength","unit":"MPa"},{"found":"none","lasting":false,"limit":"none","met":true,"rule":"strip under way below or beside","unit":""}],"met":true,"missing":[],"operation":"walk"},{"findings":[{"found":"yes","lasting":false,"limit":null,"met":true,"rule":"required sensors alive","unit":""},{"found":"not done","lasting":true,"limit":"done","met":false,"rule":"strip","unit":""},{"found":12.69325513697044,"lasting":true,"limit":7.0,"met":true,"rule":"lower bound of strength","unit":"MPa"},{"found":1.0,"lasting":true,"limit":null,"met":true,"rule":"construction load","unit":"kPa"},{"found":"none","lasting":false,"limit":"none","met":true,"rule":"strip under way below or beside","unit":""}],"met":false,"missing":[],"operation":"load"}]','{"delay":{},"ended_by":"super","expected":{"load":{"cause":"","expected_ms":1795543200000,"plan_ms":null}},"judged":{"gone":[],"required":["lg-01.1","lg-01.2"],"requirements":{"load":{"all":[{"done":"strip"},{"lower_bound_mpa":7.0},{"construction_load":true},{"no_strip_near":true}],"each_signs":false,"operation":"load"},"strip":{"all":[{"at_c":5.0,"counted_h":24.0},{"at_c":5.0,"warm_h":1.0},{"lower_bound_mpa":3.5}],"each_signs":false,"operation":"strip"},"walk":{"all":[{"at_c":5.0,"counted_h":24.0},{"at_c":5.0,"warm_h":1.0},{"lower_bound_mpa":3.5},{"no_strip_near":true}],"each_signs":false,"operation":"walk"}},"zones":{"lg-01.1":"exposed edge","lg-01.2":"interior"}},"placed":{"lg-01.1":0,"lg-01.2":0,"lg-09.1":0},"silent":{}}');
CREATE TABLE refusal_decided (
	refused INTEGER NOT NULL,
	at_ms INTEGER NOT NULL,
	outcome TEXT NOT NULL,
	PRIMARY KEY (refused),
	FOREIGN KEY(refused) REFERENCES refused (no)
)
 STRICT

;
CREATE TABLE refused (
	no INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
	digest TEXT NOT NULL,
	received_ms INTEGER NOT NULL,
	topic TEXT NOT NULL,
	payload BLOB NOT NULL,
	reason TEXT NOT NULL,
	detail TEXT NOT NULL,
	sensor TEXT,
	taken_ms INTEGER,
	CONSTRAINT refused_once UNIQUE (digest)
)
 STRICT

;
CREATE TABLE requirement (
	version INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
	at_ms INTEGER NOT NULL,
	operation TEXT NOT NULL,
	bay TEXT,
	who TEXT NOT NULL,
	second_person TEXT NOT NULL,
	why TEXT NOT NULL,
	body TEXT NOT NULL
)
 STRICT

;
CREATE TABLE sequence (
	logger TEXT NOT NULL,
	boot TEXT,
	first INTEGER,
	newest INTEGER NOT NULL,
	missing TEXT NOT NULL,
	PRIMARY KEY (logger)
)
 STRICT

;
CREATE TABLE session (
	digest TEXT NOT NULL,
	person TEXT NOT NULL,
	csrf TEXT NOT NULL,
	since_ms INTEGER NOT NULL,
	until_ms INTEGER NOT NULL,
	PRIMARY KEY (digest),
	FOREIGN KEY(person) REFERENCES account (id)
)
 STRICT

;
CREATE TABLE setting (
	version INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
	at_ms INTEGER NOT NULL,
	digest TEXT NOT NULL,
	site TEXT NOT NULL,
	calibrations TEXT NOT NULL
)
 STRICT

;
INSERT INTO "setting" VALUES(1,1795435200000,'e694756681618660aa4f97a2b7f1183c760831d5d976983b2500774f6b728704','{"backup":{"folder":null,"keep":24},"bay":[{"area_m2":null,"below":[],"cantilever":false,"construction_load_kpa":1.0,"exclusions":"none","floor":"2","id":"2-b1","joist_spacing_mm":1220,"mesh_continuous":true,"mix":"c32-f","neighbours":["2-b2"],"normal_weight":true,"sensors":[{"depth_mm":50,"id":"lg-01.1","interval_s":null,"required":true,"type":null,"zone":"exposed edge"},{"depth_mm":null,"id":"lg-01.2","interval_s":null,"required":true,"type":null,"zone":"interior"},{"depth_mm":null,"id":"lg-09.1","interval_s":null,"required":true,"type":null,"zone":"air"}],"thickness_mm":100},{"area_m2":null,"below":["2-b1"],"cantilever":false,"construction_load_kpa":null,"exclusions":"stair opening","floor":"2","id":"2-b2","joist_spacing_mm":1220,"mesh_continuous":true,"mix":"c32-f","neighbours":["2-b1"],"normal_weight":true,"sensors":[{"depth_mm":null,"id":"lg-02.1","interval_s":null,"required":true,"type":null,"zone":"last-placed end"}],"thickness_mm":100}],"broker":{"ca_file":null,"cert_file":null,"key_file":null,"kind":"embedded","listen":null,"loggers_file":null,"password_file":null,"port":1883,"url":null,"user":null,"verdicts":false},"channel":{"email":{"deadline_s":20,"host":"127.0.0.1","password_file":null,"port":2525,"security":"none","sender":"slab@millrace.example","user":null},"webhook_hosts":[]},"heartbeat":{"every_s":60,"url_file":null},"incoming":null,"laboratory":null,"mix":[{"calibration":"calibrations/c32-f-v1.toml","heat":null,"id":"c32-f","retarded":false,"specified_mpa":32.0,"supplementary":false}],"plan":{"adopted_by":"engineer of record","also":[],"cold_strip":"hold","consent_document":null,"document":"release-criteria-rev2.pdf","second_check":false,"sign_offs":1,"use":"common-practice"},"recipient":[{"channels":[{"kind":"email","to":"super@millrace.example"},{"file":"inbox.jsonl","kind":"inbox"}],"id":"super","language":"en","role":"superintendent","shift":"06:30-17:00"},{"channels":[{"file":"qc.jsonl","kind":"inbox"}],"id":"qc-one","language":"en","role":"qc","shift":null}],"requirement":[],"retention":{"archive":null,"years":null},"sensor_type":[],"site":{"anchors":null,"clock_sync":"not-checked","cover_list":"14:00","covers_m2":null,"data":"var","duty":[],"id":"millrace","interval_s":900,"morning":"06:15","name":"Millrace House","shift":"06:30-17:00","units":"SI","zone":"America/Halifax"},"stores":{"book":{"kind":"sqlite"},"readings":{"kind":"sqlite"}},"topic":[],"weather":{"kind":"none"},"web":{"cert_file":null,"key_file":null,"listen":null,"loggers_file":null,"port":0}}','{"c32-f":1}');
CREATE TABLE silence (
	no INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
	bay TEXT,
	from_ms INTEGER NOT NULL,
	until_ms INTEGER NOT NULL,
	who TEXT NOT NULL,
	why TEXT NOT NULL
)
 STRICT

;
CREATE TABLE snapshot (
	digest TEXT NOT NULL,
	body TEXT NOT NULL,
	PRIMARY KEY (digest)
)
 STRICT

;
INSERT INTO "snapshot" VALUES('9794a154ce986a568e790d9933301c8d2140fd889106519a87e89df919640415','{"by_hand":[],"calibration":{"activation_energy_from_c":null,"activation_energy_kj_per_mol":null,"activation_energy_sd_kj_per_mol":null,"activation_energy_to_c":null,"batch_sd_percent":null,"covariance":[[0.9,0.05,0.001],[0.05,0.4,0.0002],[0.001,0.0002,0.0004]],"curve":"exponential","degrees_of_freedom":12,"digest":null,"dose_class":null,"fit_for":"release","law":null,"made_on":"2026-10-05","mix":"c32-f","own_cylinders":null,"parameters":{"beta":0.85,"su_mpa":38.0,"tau_h":22.0},"tested_from_h":9.0,"tested_to_h":700.0,"valid_until":null,"version":1},"code":"0.1.0","end_ms":1795438800000,"error_budget_mpa":{"batch":1.9251575336590854,"calibration":0.6598446005464449,"clock":0.15919147935968248,"sensor":0.4493091283376277,"setting":0.6506238543885594,"temperature law":0.4400549203986415},"evidence_ms":1795536000000,"findings":["required sensors alive: yes - met","counted hours at or above 5.0 °C (41.0 °F): 27.0 h, needs 24.0 h - met","coldest through the last 1 h: 18.0 °C (64.4 °F), needs 5.0 °C (41.0 °F) - met","lower bound of strength: 12.0 MPa (1743 psi), needs 3.5 MPa (508 psi) - met"],"in_place_of":{},"mix":{"calibration":"calibrations/c32-f-v1.toml","heat":null,"id":"c32-f","retarded":false,"specified_mpa":32.0,"supplementary":false},"operation":"strip","own_cylinders":{"cylinders":0,"lowers_to":1.0,"narrows_to":null,"ratio":1.0,"sd_ratio":0.1,"why_not":""},"plan":{"adopted_by":"engineer of record","also":[],"cold_strip":"hold","consent_document":null,"document":"release-criteria-rev2.pdf","second_check":false,"sign_offs":1,"use":"common-practice"},"pour":"2-b1-p1","readings":{"lg-01.1":"86bf73913b284c47fa7688a3de3c6b5edffaec831dee24f843f54b6ec14c48df","lg-01.2":"86bf73913b284c47fa7688a3de3c6b5edffaec831dee24f843f54b6ec14c48df"},"requirement":"24 counted hours at or above 5.0 °C (41.0 °F); at or above 5.0 °C (41.0 °F) through the last 1 h; lower bound of strength 3.5 MPa (508 psi)","requirement_version":"plan common-practice","verified":{"ratio":1.0,"sets":0}}');
INSERT INTO "snapshot" VALUES('be76c7cc6669e8315ade29cfb3816d31df0ea4cb63146f0a4f0b2b99143c4eb3','{"by_hand":[],"calibration":{"activation_energy_from_c":null,"activation_energy_kj_per_mol":null,"activation_energy_sd_kj_per_mol":null,"activation_energy_to_c":null,"batch_sd_percent":null,"covariance":[[0.9,0.05,0.001],[0.05,0.4,0.0002],[0.001,0.0002,0.0004]],"curve":"exponential","degrees_of_freedom":12,"digest":null,"dose_class":null,"fit_for":"release","law":null,"made_on":"2026-10-05","mix":"c32-f","own_cylinders":null,"parameters":{"beta":0.85,"su_mpa":38.0,"tau_h":22.0},"tested_from_h":9.0,"tested_to_h":700.0,"valid_until":null,"version":1},"code":"0.1.0","end_ms":1795438800000,"error_budget_mpa":{"batch":1.9251575336590854,"calibration":0.6598446005464449,"clock":0.15919147935968248,"sensor":0.4493091283376277,"setting":0.6506238543885594,"temperature law":0.4400549203986415},"evidence_ms":1795536000000,"findings":["required sensors alive: yes - met","counted hours at or above 5.0 °C (41.0 °F): 27.0 h, needs 24.0 h - met","coldest through the last 1 h: 18.0 °C (64.4 °F), needs 5.0 °C (41.0 °F) - met","lower bound of strength: 12.0 MPa (1743 psi), needs 3.5 MPa (508 psi) - met","strip under way below or beside: none, needs none - met"],"in_place_of":{},"mix":{"calibration":"calibrations/c32-f-v1.toml","heat":null,"id":"c32-f","retarded":false,"specified_mpa":32.0,"supplementary":false},"operation":"walk","own_cylinders":{"cylinders":0,"lowers_to":1.0,"narrows_to":null,"ratio":1.0,"sd_ratio":0.1,"why_not":""},"plan":{"adopted_by":"engineer of record","also":[],"cold_strip":"hold","consent_document":null,"document":"release-criteria-rev2.pdf","second_check":false,"sign_offs":1,"use":"common-practice"},"pour":"2-b1-p1","readings":{"lg-01.1":"86bf73913b284c47fa7688a3de3c6b5edffaec831dee24f843f54b6ec14c48df","lg-01.2":"86bf73913b284c47fa7688a3de3c6b5edffaec831dee24f843f54b6ec14c48df"},"requirement":"24 counted hours at or above 5.0 °C (41.0 °F); at or above 5.0 °C (41.0 °F) through the last 1 h; lower bound of strength 3.5 MPa (508 psi); no strip under way below or beside","requirement_version":"plan common-practice","verified":{"ratio":1.0,"sets":0}}');
CREATE TABLE starts_before (
	logger TEXT NOT NULL,
	starts TEXT NOT NULL,
	PRIMARY KEY (logger)
)
 STRICT

;
CREATE TABLE test_result (
	no INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
	pour TEXT NOT NULL,
	method TEXT NOT NULL,
	mpa REAL NOT NULL,
	equivalent_age_h REAL,
	last_third INTEGER NOT NULL,
	position TEXT,
	tested_ms INTEGER NOT NULL,
	who TEXT NOT NULL,
	FOREIGN KEY(pour) REFERENCES pour (id)
)
 STRICT

;
CREATE TABLE token (
	no INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
	digest TEXT NOT NULL,
	name TEXT NOT NULL,
	person TEXT NOT NULL,
	scopes TEXT NOT NULL,
	who TEXT NOT NULL,
	since_ms INTEGER NOT NULL,
	until_ms INTEGER,
	ended_ms INTEGER,
	CONSTRAINT token_once UNIQUE (digest)
)
 STRICT

;
CREATE TABLE weather (
	no INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
	source TEXT NOT NULL,
	issued_ms INTEGER NOT NULL,
	received_ms INTEGER NOT NULL,
	digest TEXT NOT NULL,
	hours TEXT NOT NULL,
	left_out TEXT NOT NULL,
	CONSTRAINT weather_once UNIQUE (source, digest)
)
 STRICT

;
CREATE TABLE weather_heard (
	source TEXT NOT NULL,
	tried_ms INTEGER NOT NULL,
	heard_ms INTEGER,
	failures INTEGER NOT NULL,
	why TEXT NOT NULL,
	tag TEXT,
	changed TEXT,
	PRIMARY KEY (source)
)
 STRICT

;
CREATE INDEX document_name ON document (name);
CREATE INDEX message_routed ON message (routed, no);
CREATE INDEX placement_bay ON placement (bay);
CREATE INDEX placement_sensor ON placement (sensor);
CREATE INDEX pour_bay ON pour (bay);
CREATE INDEX refused_reading ON refused (sensor, taken_ms);
CREATE INDEX weather_received ON weather (source, received_ms);
CREATE INDEX delivery_busy ON delivery (recipient, channel, state);
CREATE INDEX delivery_due ON delivery (state, next_ms);
CREATE INDEX forecast_scored ON forecast (scored_ms, pour);
CREATE INDEX hand_reading_pour ON hand_reading (pour);
CREATE INDEX kept_answer_at ON kept_answer (at_ms);
CREATE INDEX pour_state_due ON pour_state (next_due_ms);
CREATE INDEX session_person ON session (person);
CREATE INDEX test_result_pour ON test_result (pour);
CREATE TRIGGER log_no_update BEFORE UPDATE ON log BEGIN SELECT RAISE(ABORT, 'the log is append-only'); END;
CREATE TRIGGER log_no_delete BEFORE DELETE ON log BEGIN SELECT RAISE(ABORT, 'the log is append-only'); END;
DELETE FROM "sqlite_sequence";
INSERT INTO "sqlite_sequence" VALUES('setting',1);
INSERT INTO "sqlite_sequence" VALUES('placement',4);
INSERT INTO "sqlite_sequence" VALUES('log',22);
INSERT INTO "sqlite_sequence" VALUES('clock_span',2);
INSERT INTO "sqlite_sequence" VALUES('act',2);
INSERT INTO "sqlite_sequence" VALUES('message',2);
INSERT INTO "sqlite_sequence" VALUES('delivery',6);
COMMIT;
