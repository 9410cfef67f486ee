BEGIN TRANSACTION;
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0011');
CREATE TABLE clients (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	created_at DATETIME NOT NULL, 
	name TEXT NOT NULL, 
	name_key TEXT NOT NULL, 
	notes TEXT
);
INSERT INTO "clients" VALUES(1,'2026-03-01 12:00:00.000000','Dara Invented','dara invented',NULL);
CREATE TABLE comments (
	id INTEGER NOT NULL, 
	review_id INTEGER NOT NULL, 
	created_at DATETIME NOT NULL, 
	text TEXT NOT NULL, 
	at_s FLOAT, 
	strokes TEXT, 
	voice_sha256 VARCHAR(64), 
	voice BLOB, 
	PRIMARY KEY (id), 
	FOREIGN KEY(review_id) REFERENCES reviews (id) ON DELETE CASCADE
);
CREATE TABLE documents (
	review_id INTEGER NOT NULL, 
	sha256 VARCHAR(64) NOT NULL, 
	body TEXT NOT NULL, 
	PRIMARY KEY (review_id), 
	FOREIGN KEY(review_id) REFERENCES reviews (id) ON DELETE CASCADE
);
INSERT INTO "documents" VALUES(1,'33c0bcc202fb498a2005ee4a96785353a0cce551b3cc2cc7863d12dd5e505dbd','{"schema": "formcheck-review", "version": 2, "clip": {"name": "invented-set-1.mp4", "sha256": "1111111111111111111111111111111111111111111111111111111111111111", "width": 608, "height": 1080, "duration_s": 60.0, "frames": 1800, "frame_rate": 30.0, "variable_rate": false, "codec": "h264"}, "pose_model": {"name": "invented", "sha256": "0000000000000000000000000000000000000000000000000000000000000000"}, "exercise": {"id": "lateral-raise", "name": "Lateral raise to shoulder height"}, "set": {"load_kg": 8.0, "target_reps": null}, "view": {"name": "front", "yaw_deg": 0.0, "yaw_margin_deg": 5.0, "origin": "estimated", "known": true}, "quality": {"tracked_share": 1.0, "frame_rate": 30.0, "subject_height_px": 800.0, "out_of_frame": {}, "low_visibility": {}, "notes": [], "landmark_jitter": null, "problems": [], "notes_coded": []}, "reps": [{"number": 1, "start_s": 4.0, "top_s": 5.5, "end_s": 7.2, "complete": true, "tempo": {"eccentric_s": 2.0, "bottom_pause_s": 1.0, "concentric_s": 1.2, "top_pause_s": 0.3}, "by_hand": false, "side": "left"}, {"number": 2, "start_s": 8.0, "top_s": 9.5, "end_s": 11.2, "complete": true, "tempo": {"eccentric_s": 2.0, "bottom_pause_s": 1.0, "concentric_s": 1.2, "top_pause_s": 0.3}, "by_hand": false, "side": "right"}, {"number": 3, "start_s": 12.0, "top_s": 13.5, "end_s": 15.2, "complete": true, "tempo": {"eccentric_s": 2.0, "bottom_pause_s": 1.0, "concentric_s": 1.2, "top_pause_s": 0.3}, "by_hand": false, "side": "left"}, {"number": 4, "start_s": 16.0, "top_s": 17.5, "end_s": 19.2, "complete": true, "tempo": {"eccentric_s": 2.0, "bottom_pause_s": 1.0, "concentric_s": 1.2, "top_pause_s": 0.3}, "by_hand": false, "side": "right"}, {"number": 5, "start_s": 20.0, "top_s": 21.5, "end_s": 23.2, "complete": true, "tempo": {"eccentric_s": 2.0, "bottom_pause_s": 1.0, "concentric_s": 1.2, "top_pause_s": 0.3}, "by_hand": false, "side": "left"}, {"number": 6, "start_s": 24.0, "top_s": 25.5, "end_s": 27.2, "complete": false, "tempo": {"eccentric_s": 2.0, "bottom_pause_s": 1.0, "concentric_s": 1.2, "top_pause_s": 0.3}, "by_hand": false, "side": "right"}], "measures": [{"name": "range_of_motion", "side": "left", "rep": 1, "value": 85.0, "margin": 4.0, "unit": "deg", "missing_reason": null, "camera": null, "margin_origin": null, "missing_reason_coded": null}], "findings": [], "cautions": ["Advisory only."], "second_camera": null, "by_hand": [], "parts": [], "by_hand_coded": [], "points": [], "measures_version": 1, "reference": null, "sides": "alternating"}');
INSERT INTO "documents" VALUES(2,'6c173dd32860d7c8931cd4ec20b5e75fc4f2a1de9276aa5e1b939547e84de3de','{"schema": "formcheck-review", "version": 2, "clip": {"name": "invented-set-2.mp4", "sha256": "2222222222222222222222222222222222222222222222222222222222222222", "width": 608, "height": 1080, "duration_s": 60.0, "frames": 1800, "frame_rate": 30.0, "variable_rate": false, "codec": "h264"}, "pose_model": {"name": "invented", "sha256": "0000000000000000000000000000000000000000000000000000000000000000"}, "exercise": {"id": "lateral-raise", "name": "Lateral raise to shoulder height"}, "set": {"load_kg": 8.0, "target_reps": null}, "view": {"name": "front", "yaw_deg": 0.0, "yaw_margin_deg": 5.0, "origin": "estimated", "known": true}, "quality": {"tracked_share": 1.0, "frame_rate": 30.0, "subject_height_px": 800.0, "out_of_frame": {}, "low_visibility": {}, "notes": [], "landmark_jitter": null, "problems": [], "notes_coded": []}, "reps": [{"number": 1, "start_s": 4.0, "top_s": 5.5, "end_s": 7.2, "complete": true, "tempo": {"eccentric_s": 2.0, "bottom_pause_s": 1.0, "concentric_s": 1.2, "top_pause_s": 0.3}, "by_hand": false, "side": null}, {"number": 2, "start_s": 8.0, "top_s": 9.5, "end_s": 11.2, "complete": true, "tempo": {"eccentric_s": 2.0, "bottom_pause_s": 1.0, "concentric_s": 1.2, "top_pause_s": 0.3}, "by_hand": false, "side": null}, {"number": 3, "start_s": 12.0, "top_s": 13.5, "end_s": 15.2, "complete": true, "tempo": {"eccentric_s": 2.0, "bottom_pause_s": 1.0, "concentric_s": 1.2, "top_pause_s": 0.3}, "by_hand": false, "side": null}], "measures": [{"name": "range_of_motion", "side": "left", "rep": 1, "value": 85.0, "margin": 4.0, "unit": "deg", "missing_reason": null, "camera": null, "margin_origin": null, "missing_reason_coded": null}], "findings": [], "cautions": ["Advisory only."], "second_camera": null, "by_hand": [], "parts": [], "by_hand_coded": [], "points": [], "measures_version": 1, "reference": null, "sides": "both"}');
INSERT INTO "documents" VALUES(3,'0d6cfcebe34148c56dec4c86f3b5879c49dc86ef2201bc78517a0a72882bd95d','{"schema": "formcheck-review", "version": 2, "clip": {"name": "invented-set-3.mp4", "sha256": "3333333333333333333333333333333333333333333333333333333333333333", "width": 608, "height": 1080, "duration_s": 60.0, "frames": 1800, "frame_rate": 30.0, "variable_rate": false, "codec": "h264"}, "pose_model": {"name": "invented", "sha256": "0000000000000000000000000000000000000000000000000000000000000000"}, "exercise": {"id": "lateral-raise", "name": "Lateral raise to shoulder height"}, "set": {"load_kg": 8.0, "target_reps": null}, "view": {"name": "front", "yaw_deg": 0.0, "yaw_margin_deg": 5.0, "origin": "estimated", "known": true}, "quality": {"tracked_share": 1.0, "frame_rate": 30.0, "subject_height_px": 800.0, "out_of_frame": {}, "low_visibility": {}, "notes": [], "landmark_jitter": null, "problems": [], "notes_coded": []}, "reps": [{"number": 1, "start_s": 4.0, "top_s": 5.5, "end_s": 7.2, "complete": true, "tempo": {"eccentric_s": 2.0, "bottom_pause_s": 1.0, "concentric_s": 1.2, "top_pause_s": 0.3}, "by_hand": false, "side": "left"}, {"number": 2, "start_s": 8.0, "top_s": 9.5, "end_s": 11.2, "complete": true, "tempo": {"eccentric_s": 2.0, "bottom_pause_s": 1.0, "concentric_s": 1.2, "top_pause_s": 0.3}, "by_hand": false, "side": "left"}, {"number": 3, "start_s": 12.0, "top_s": 13.5, "end_s": 15.2, "complete": true, "tempo": {"eccentric_s": 2.0, "bottom_pause_s": 1.0, "concentric_s": 1.2, "top_pause_s": 0.3}, "by_hand": false, "side": "left"}], "measures": [{"name": "range_of_motion", "side": "left", "rep": 1, "value": 85.0, "margin": 4.0, "unit": "deg", "missing_reason": null, "camera": null, "margin_origin": null, "missing_reason_coded": null}], "findings": [], "cautions": ["Advisory only."], "second_camera": null, "by_hand": [], "parts": [], "by_hand_coded": [], "points": [], "measures_version": 1, "reference": null, "sides": "one"}');
CREATE TABLE jobs (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	home VARCHAR(32) NOT NULL, 
	"key" VARCHAR(20) NOT NULL, 
	number INTEGER NOT NULL, 
	kind TEXT NOT NULL, 
	in_line BOOLEAN NOT NULL, 
	clip_path TEXT NOT NULL, 
	clip_name TEXT NOT NULL, 
	exercise TEXT NOT NULL, 
	"view" TEXT NOT NULL, 
	load_kg FLOAT, 
	target_reps INTEGER, 
	of_review_id INTEGER, 
	client TEXT, 
	session_on TEXT, 
	second_path TEXT, 
	second_name TEXT, 
	blur_faces BOOLEAN NOT NULL, 
	state TEXT NOT NULL, 
	stage TEXT NOT NULL, 
	share FLOAT NOT NULL, 
	seconds_left FLOAT, 
	spent_s FLOAT, 
	review_id INTEGER, 
	problem TEXT, 
	heartbeat_at FLOAT NOT NULL, 
	claim VARCHAR(32), 
	worker_pid INTEGER, 
	restarts INTEGER NOT NULL, 
	put_away BOOLEAN NOT NULL, 
	result TEXT, excerpt TEXT, same_set BOOLEAN, 
	FOREIGN KEY(of_review_id) REFERENCES reviews (id) ON DELETE CASCADE, 
	FOREIGN KEY(review_id) REFERENCES reviews (id) ON DELETE CASCADE
);
INSERT INTO "jobs" VALUES(1,'home','d74edb218505e33243ab',1,'review',1,'front.mp4','front.mp4','lateral-raise','auto',NULL,NULL,NULL,NULL,NULL,'side.mp4','side.mp4',0,'queued','Starting',0.0,NULL,NULL,NULL,NULL,1.0,NULL,NULL,0,0,NULL,NULL,1);
CREATE TABLE limits (
	id INTEGER NOT NULL, 
	exercise_id TEXT NOT NULL, 
	client_id INTEGER, 
	created_at DATETIME NOT NULL, 
	body TEXT NOT NULL, 
	PRIMARY KEY (id), 
	FOREIGN KEY(client_id) REFERENCES clients (id) ON DELETE CASCADE
);
CREATE TABLE plans (
	id INTEGER NOT NULL, 
	client_id INTEGER NOT NULL, 
	exercise_id TEXT NOT NULL, 
	created_at DATETIME NOT NULL, 
	since DATE NOT NULL, 
	notation TEXT, 
	remark TEXT, 
	PRIMARY KEY (id), 
	FOREIGN KEY(client_id) REFERENCES clients (id) ON DELETE CASCADE
);
CREATE TABLE ratings (
	id INTEGER NOT NULL, 
	review_id INTEGER NOT NULL, 
	created_at DATETIME NOT NULL, 
	check_id TEXT NOT NULL, 
	verdict TEXT NOT NULL, 
	agrees BOOLEAN NOT NULL, 
	rep_s FLOAT, 
	why TEXT, 
	PRIMARY KEY (id), 
	FOREIGN KEY(review_id) REFERENCES reviews (id) ON DELETE CASCADE
);
CREATE TABLE reference_reps (
	review_id INTEGER NOT NULL, 
	created_at DATETIME NOT NULL, 
	rep_s FLOAT NOT NULL, 
	PRIMARY KEY (review_id), 
	FOREIGN KEY(review_id) REFERENCES reviews (id) ON DELETE CASCADE
);
CREATE TABLE reviews (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	created_at DATETIME NOT NULL, 
	clip_path TEXT, 
	clip_name TEXT NOT NULL, 
	clip_sha256 VARCHAR(64) NOT NULL, 
	exercise_id TEXT NOT NULL, 
	exercise_name TEXT NOT NULL, 
	"view" TEXT NOT NULL, 
	load_kg FLOAT, 
	target_reps INTEGER, 
	complete_reps INTEGER NOT NULL, 
	partial_reps INTEGER NOT NULL, 
	met INTEGER NOT NULL, 
	not_met INTEGER NOT NULL, 
	undecided INTEGER NOT NULL
, client_id INTEGER REFERENCES clients (id) ON DELETE CASCADE, session_on DATE, set_number INTEGER, variation TEXT, by_hand BOOLEAN DEFAULT 0 NOT NULL, second_clip_sha256 VARCHAR(64), problems TEXT DEFAULT '' NOT NULL, probably_met INTEGER DEFAULT '0' NOT NULL, probably_not_met INTEGER DEFAULT '0' NOT NULL, too_close INTEGER DEFAULT '0' NOT NULL, seen_at DATETIME, done_at DATETIME, deletion_at DATETIME);
INSERT INTO "reviews" VALUES(1,'2026-03-01 12:00:00.000000',NULL,'invented-set-1.mp4','1111111111111111111111111111111111111111111111111111111111111111','lateral-raise','Lateral raise to shoulder height','front',8.0,NULL,4,0,0,0,0,1,'2026-03-01',1,NULL,1,NULL,'',0,0,0,NULL,NULL,NULL);
INSERT INTO "reviews" VALUES(2,'2026-03-01 12:00:00.000000',NULL,'invented-set-2.mp4','2222222222222222222222222222222222222222222222222222222222222222','lateral-raise','Lateral raise to shoulder height','front',8.0,NULL,3,0,0,0,0,1,'2026-03-01',2,NULL,0,NULL,'',0,0,0,NULL,NULL,NULL);
INSERT INTO "reviews" VALUES(3,'2026-03-01 12:00:00.000000',NULL,'invented-set-3.mp4','3333333333333333333333333333333333333333333333333333333333333333','lateral-raise','Lateral raise to shoulder height','front',8.0,NULL,3,0,0,0,0,1,'2026-03-01',3,NULL,0,NULL,'',0,0,0,NULL,NULL,NULL);
CREATE TABLE revisions (
	id INTEGER NOT NULL, 
	review_id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	created_at DATETIME NOT NULL, 
	undone_at DATETIME, 
	edits TEXT NOT NULL, 
	sha256 VARCHAR(64) NOT NULL, 
	body TEXT NOT NULL, 
	PRIMARY KEY (id), 
	FOREIGN KEY(review_id) REFERENCES reviews (id) ON DELETE CASCADE
);
INSERT INTO "revisions" VALUES(1,1,1,'2026-03-01 12:00:00.000000',NULL,'{"exercise_id": null, "outside": [{"start_s": 0.0, "end_s": 1.0}], "removed_s": [], "placed": []}','d4728ae999f3092ce5e648b801bfc3c85f808fcb2c15d8409496f2c2c1964e6b','{"schema": "formcheck-review", "version": 2, "clip": {"name": "invented-set-1.mp4", "sha256": "1111111111111111111111111111111111111111111111111111111111111111", "width": 608, "height": 1080, "duration_s": 60.0, "frames": 1800, "frame_rate": 30.0, "variable_rate": false, "codec": "h264"}, "pose_model": {"name": "invented", "sha256": "0000000000000000000000000000000000000000000000000000000000000000"}, "exercise": {"id": "lateral-raise", "name": "Lateral raise to shoulder height"}, "set": {"load_kg": 8.0, "target_reps": null}, "view": {"name": "front", "yaw_deg": 0.0, "yaw_margin_deg": 5.0, "origin": "estimated", "known": true}, "quality": {"tracked_share": 1.0, "frame_rate": 30.0, "subject_height_px": 800.0, "out_of_frame": {}, "low_visibility": {}, "notes": [], "landmark_jitter": null, "problems": [], "notes_coded": []}, "reps": [{"number": 1, "start_s": 4.0, "top_s": 5.5, "end_s": 7.2, "complete": true, "tempo": {"eccentric_s": 2.0, "bottom_pause_s": 1.0, "concentric_s": 1.2, "top_pause_s": 0.3}, "by_hand": false, "side": "left"}, {"number": 2, "start_s": 8.0, "top_s": 9.5, "end_s": 11.2, "complete": true, "tempo": {"eccentric_s": 2.0, "bottom_pause_s": 1.0, "concentric_s": 1.2, "top_pause_s": 0.3}, "by_hand": false, "side": "right"}, {"number": 3, "start_s": 12.0, "top_s": 13.5, "end_s": 15.2, "complete": true, "tempo": {"eccentric_s": 2.0, "bottom_pause_s": 1.0, "concentric_s": 1.2, "top_pause_s": 0.3}, "by_hand": false, "side": "left"}, {"number": 4, "start_s": 16.0, "top_s": 17.5, "end_s": 19.2, "complete": true, "tempo": {"eccentric_s": 2.0, "bottom_pause_s": 1.0, "concentric_s": 1.2, "top_pause_s": 0.3}, "by_hand": false, "side": "right"}], "measures": [{"name": "range_of_motion", "side": "left", "rep": 1, "value": 85.0, "margin": 4.0, "unit": "deg", "missing_reason": null, "camera": null, "margin_origin": null, "missing_reason_coded": null}], "findings": [], "cautions": ["Advisory only."], "second_camera": null, "by_hand": [], "parts": [], "by_hand_coded": [], "points": [], "measures_version": 1, "reference": null, "sides": "alternating"}');
INSERT INTO "revisions" VALUES(2,3,1,'2026-03-01 12:00:00.000000','2026-03-01 12:00:00.000000','{"exercise_id": null, "outside": [{"start_s": 0.0, "end_s": 1.0}], "removed_s": [], "placed": []}','160f5cbdab55f43ef4421563870dab886a9d7789bf9d98d466baf023f7b61b27','{"schema": "formcheck-review", "version": 2, "clip": {"name": "invented-set-3.mp4", "sha256": "3333333333333333333333333333333333333333333333333333333333333333", "width": 608, "height": 1080, "duration_s": 60.0, "frames": 1800, "frame_rate": 30.0, "variable_rate": false, "codec": "h264"}, "pose_model": {"name": "invented", "sha256": "0000000000000000000000000000000000000000000000000000000000000000"}, "exercise": {"id": "lateral-raise", "name": "Lateral raise to shoulder height"}, "set": {"load_kg": 8.0, "target_reps": null}, "view": {"name": "front", "yaw_deg": 0.0, "yaw_margin_deg": 5.0, "origin": "estimated", "known": true}, "quality": {"tracked_share": 1.0, "frame_rate": 30.0, "subject_height_px": 800.0, "out_of_frame": {}, "low_visibility": {}, "notes": [], "landmark_jitter": null, "problems": [], "notes_coded": []}, "reps": [{"number": 1, "start_s": 4.0, "top_s": 5.5, "end_s": 7.2, "complete": true, "tempo": {"eccentric_s": 2.0, "bottom_pause_s": 1.0, "concentric_s": 1.2, "top_pause_s": 0.3}, "by_hand": false, "side": "left"}, {"number": 2, "start_s": 8.0, "top_s": 9.5, "end_s": 11.2, "complete": true, "tempo": {"eccentric_s": 2.0, "bottom_pause_s": 1.0, "concentric_s": 1.2, "top_pause_s": 0.3}, "by_hand": false, "side": "left"}], "measures": [{"name": "range_of_motion", "side": "left", "rep": 1, "value": 85.0, "margin": 4.0, "unit": "deg", "missing_reason": null, "camera": null, "margin_origin": null, "missing_reason_coded": null}], "findings": [], "cautions": ["Advisory only."], "second_camera": null, "by_hand": [], "parts": [], "by_hand_coded": [], "points": [], "measures_version": 1, "reference": null, "sides": "one"}');
CREATE TABLE set_notes (
	review_id INTEGER NOT NULL, 
	written_at DATETIME NOT NULL, 
	reps_in_reserve FLOAT, 
	effort FLOAT, 
	pain BOOLEAN, 
	pain_where TEXT, 
	sleep_h FLOAT, 
	remark TEXT, 
	PRIMARY KEY (review_id), 
	FOREIGN KEY(review_id) REFERENCES reviews (id) ON DELETE CASCADE
);
CREATE INDEX reviews_by_time ON reviews (created_at);
CREATE INDEX reviews_by_clip ON reviews (clip_sha256, exercise_id);
CREATE UNIQUE INDEX clients_by_name ON clients (name_key);
CREATE UNIQUE INDEX revisions_by_review ON revisions (review_id, number);
CREATE INDEX plans_by_client ON plans (client_id, exercise_id, since);
CREATE INDEX limits_by_exercise ON limits (exercise_id, client_id);
CREATE INDEX reviews_by_client_id ON reviews (client_id, exercise_id, session_on);
CREATE INDEX reviews_by_second_clip ON reviews (second_clip_sha256);
CREATE INDEX reviews_by_path ON reviews (clip_path);
CREATE INDEX reviews_by_session ON reviews (session_on, exercise_id);
CREATE UNIQUE INDEX jobs_by_key ON jobs (home, "key", number);
CREATE INDEX jobs_by_review ON jobs (review_id);
CREATE INDEX jobs_by_drawn_review ON jobs (of_review_id);
CREATE INDEX comments_by_review ON comments (review_id);
CREATE INDEX ratings_by_review ON ratings (review_id);
DELETE FROM "sqlite_sequence";
INSERT INTO "sqlite_sequence" VALUES('clients',1);
INSERT INTO "sqlite_sequence" VALUES('reviews',3);
INSERT INTO "sqlite_sequence" VALUES('jobs',1);
COMMIT;
