BEGIN TRANSACTION;
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0004');
CREATE TABLE clients (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	created_at DATETIME NOT NULL, 
	name TEXT NOT NULL, 
	name_key TEXT NOT NULL, 
	notes TEXT
);
INSERT INTO "clients" VALUES(1,'2026-03-01 12:00:00.000000','Cleo Invented','cleo invented',NULL);
CREATE TABLE documents (
	review_id INTEGER NOT NULL, 
	sha256 VARCHAR(64) NOT NULL, 
	body TEXT NOT NULL, 
	PRIMARY KEY (review_id), 
	FOREIGN KEY(review_id) REFERENCES reviews (id) ON DELETE CASCADE
);
INSERT INTO "documents" VALUES(1,'6109bb33a625b3cae8528b73835f4d12ca191bc1a66bff50753ad7fc87da32e1','{"schema": "formcheck-review", "version": 2, "clip": {"name": "invented-set-1.mp4", "sha256": "0000000000000000000000000000000000000000000000000000000000000001", "width": 608, "height": 1080, "duration_s": 9.433, "frames": 284, "frame_rate": 30.0, "variable_rate": false, "codec": "h264"}, "pose_model": {"name": "invented-model", "sha256": "9a3e5c77b2d1460f9a3e5c77b2d1460f9a3e5c77b2d1460f9a3e5c77b2d1460f"}, "exercise": {"id": "lateral-raise", "name": "Lateral raise to shoulder height"}, "set": {"load_kg": 7.5, "target_reps": 3}, "view": {"name": "front", "yaw_deg": -4.25, "yaw_margin_deg": 9.0, "origin": "estimated", "known": true}, "quality": {"tracked_share": 0.9965, "frame_rate": 30.0, "subject_height_px": 812.5, "out_of_frame": {"left_foot_index": 0.031}, "low_visibility": {}, "notes": ["The left foot leaves the picture: film from a little further away."], "landmark_jitter": null, "problems": []}, "reps": [{"number": 1, "start_s": 0.567, "top_s": 1.767, "end_s": 3.4, "complete": true, "tempo": {"eccentric_s": 1.5, "bottom_pause_s": 0.133, "concentric_s": 1.1, "top_pause_s": 0.233}, "by_hand": false}, {"number": 2, "start_s": 3.4, "top_s": 4.6, "end_s": 6.2, "complete": true, "tempo": {"eccentric_s": 1.433, "bottom_pause_s": 0.2, "concentric_s": 1.1, "top_pause_s": 0.2}, "by_hand": false}, {"number": 3, "start_s": 6.2, "top_s": 7.1, "end_s": 8.5, "complete": false, "tempo": {"eccentric_s": 0.9, "bottom_pause_s": 0.0, "concentric_s": 0.8, "top_pause_s": 0.1}, "by_hand": false}], "measures": [{"name": "arm_raise_peak", "side": "left", "rep": 1, "value": 89.42, "margin": 4.1, "unit": "deg", "missing_reason": null, "camera": null, "margin_origin": null}, {"name": "arm_raise_peak", "side": "right", "rep": 1, "value": 91.08, "margin": 4.1, "unit": "deg", "missing_reason": null, "camera": null, "margin_origin": null}, {"name": "arm_raise_peak", "side": "left", "rep": 3, "value": 47.3, "margin": 4.1, "unit": "deg", "missing_reason": null, "camera": null, "margin_origin": null}, {"name": "eccentric_time", "side": null, "rep": 1, "value": 1.5, "margin": 0.07, "unit": "s", "missing_reason": null, "camera": null, "margin_origin": null}, {"name": "torso_inclination_range", "side": null, "rep": 1, "value": null, "margin": null, "unit": "deg", "missing_reason": "Not measurable from the front: film from the side.", "camera": null, "margin_origin": null}, {"name": "range_share", "side": null, "rep": 3, "value": 0.5213, "margin": null, "unit": "ratio", "missing_reason": null, "camera": null, "margin_origin": null}], "findings": [{"check": "height", "verdict": "not_met", "reps": [3], "measure": "arm_raise_peak", "value": 47.3, "limit": 85.0, "at_s": 7.1, "text": "The arms stop well below the shoulders.", "basis": "common practice", "reason": null}, {"check": "swing", "verdict": "undecided", "reps": [1, 2, 3], "measure": "torso_inclination_range", "value": null, "limit": 10.0, "at_s": null, "text": "Swing cannot be told from the front.", "basis": "common practice", "reason": null}], "cautions": ["Stop if it hurts and have it looked at."], "second_camera": null, "by_hand": [], "parts": []}');
INSERT INTO "documents" VALUES(2,'c7bfa6049fdd32c39886bb0afdc72909e26408ebc27c870e49962164d028d6a7','{"schema": "formcheck-review", "version": 2, "clip": {"name": "invented-set-2.mp4", "sha256": "0000000000000000000000000000000000000000000000000000000000000002", "width": 608, "height": 1080, "duration_s": 9.433, "frames": 284, "frame_rate": 30.0, "variable_rate": false, "codec": "h264"}, "pose_model": {"name": "invented-model", "sha256": "9a3e5c77b2d1460f9a3e5c77b2d1460f9a3e5c77b2d1460f9a3e5c77b2d1460f"}, "exercise": {"id": "lateral-raise", "name": "Lateral raise to shoulder height"}, "set": {"load_kg": 7.5, "target_reps": 3}, "view": {"name": "front", "yaw_deg": -4.25, "yaw_margin_deg": 9.0, "origin": "estimated", "known": true}, "quality": {"tracked_share": 0.9965, "frame_rate": 30.0, "subject_height_px": 812.5, "out_of_frame": {"left_foot_index": 0.031}, "low_visibility": {}, "notes": ["The left foot leaves the picture: film from a little further away."], "landmark_jitter": null, "problems": []}, "reps": [{"number": 1, "start_s": 0.567, "top_s": 1.767, "end_s": 3.4, "complete": true, "tempo": {"eccentric_s": 1.5, "bottom_pause_s": 0.133, "concentric_s": 1.1, "top_pause_s": 0.233}, "by_hand": false}, {"number": 2, "start_s": 3.4, "top_s": 4.6, "end_s": 6.2, "complete": true, "tempo": {"eccentric_s": 1.433, "bottom_pause_s": 0.2, "concentric_s": 1.1, "top_pause_s": 0.2}, "by_hand": false}, {"number": 3, "start_s": 6.2, "top_s": 7.1, "end_s": 8.5, "complete": false, "tempo": {"eccentric_s": 0.9, "bottom_pause_s": 0.0, "concentric_s": 0.8, "top_pause_s": 0.1}, "by_hand": false}], "measures": [{"name": "arm_raise_peak", "side": "left", "rep": 1, "value": 89.42, "margin": 4.1, "unit": "deg", "missing_reason": null, "camera": null, "margin_origin": null}, {"name": "arm_raise_peak", "side": "right", "rep": 1, "value": 91.08, "margin": 4.1, "unit": "deg", "missing_reason": null, "camera": null, "margin_origin": null}, {"name": "arm_raise_peak", "side": "left", "rep": 3, "value": 47.3, "margin": 4.1, "unit": "deg", "missing_reason": null, "camera": null, "margin_origin": null}, {"name": "eccentric_time", "side": null, "rep": 1, "value": 1.5, "margin": 0.07, "unit": "s", "missing_reason": null, "camera": null, "margin_origin": null}, {"name": "torso_inclination_range", "side": null, "rep": 1, "value": null, "margin": null, "unit": "deg", "missing_reason": "Not measurable from the front: film from the side.", "camera": null, "margin_origin": null}, {"name": "range_share", "side": null, "rep": 3, "value": 0.5213, "margin": null, "unit": "ratio", "missing_reason": null, "camera": null, "margin_origin": null}], "findings": [{"check": "height", "verdict": "not_met", "reps": [3], "measure": "arm_raise_peak", "value": 47.3, "limit": 85.0, "at_s": 7.1, "text": "The arms stop well below the shoulders.", "basis": "common practice", "reason": null}, {"check": "swing", "verdict": "undecided", "reps": [1, 2, 3], "measure": "torso_inclination_range", "value": null, "limit": 10.0, "at_s": null, "text": "Swing cannot be told from the front.", "basis": "common practice", "reason": null}], "cautions": ["Stop if it hurts and have it looked at."], "second_camera": null, "by_hand": [], "parts": []}');
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
, client_id INTEGER REFERENCES clients (id) ON DELETE CASCADE, session_on DATE, set_number INTEGER, variation TEXT, by_hand BOOLEAN DEFAULT 0 NOT NULL, second_clip_sha256 VARCHAR(64), problems TEXT DEFAULT '' NOT NULL);
INSERT INTO "reviews" VALUES(1,'2026-03-01 12:00:00.000000','clips/invented-set-1.mp4','invented-set-1.mp4','0000000000000000000000000000000000000000000000000000000000000001','lateral-raise','Lateral raise to shoulder height','front',7.5,3,2,1,0,1,1,1,'2026-03-01',1,NULL,0,NULL,'');
INSERT INTO "reviews" VALUES(2,'2026-03-01 12:00:00.000000',NULL,'invented-set-2.mp4','0000000000000000000000000000000000000000000000000000000000000002','lateral-raise','Lateral raise to shoulder height','front',7.5,3,2,1,0,1,1,NULL,'2026-03-01',1,NULL,0,NULL,'');
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
DELETE FROM "sqlite_sequence";
INSERT INTO "sqlite_sequence" VALUES('clients',1);
INSERT INTO "sqlite_sequence" VALUES('reviews',3);
COMMIT;
