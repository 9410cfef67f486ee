BEGIN TRANSACTION;
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0010');
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
INSERT INTO "comments" VALUES(1,1,'2026-03-01 12:00:00.000000','Elbows first.',3.25,NULL,NULL,NULL);
CREATE TABLE documents (
	review_id INTEGER NOT NULL, 
	sha256 VARCHAR(64) NOT NULL, 
	body TEXT NOT NULL, 
	PRIMARY KEY (review_id), 
	FOREIGN KEY(review_id) REFERENCES reviews (id) ON DELETE CASCADE
);
INSERT INTO "documents" VALUES(1,'a6afe4c9b518ca554ea9c855d2c8bfa6cdecc0b03587c72efaf372140f112be0','{"schema": "formcheck-review", "version": 2, "clip": {"name": "invented-set-1.mp4", "sha256": "0000000000000000000000000000000000000000000000000000000000000001", "width": 608, "height": 1080, "duration_s": 9.433, "frames": 284, "frame_rate": 30.0, "variable_rate": false, "codec": "h264"}, "pose_model": {"name": "invented-model", "sha256": "9a3e5c77b2d1460f9a3e5c77b2d1460f9a3e5c77b2d1460f9a3e5c77b2d1460f"}, "exercise": {"id": "lateral-raise", "name": "Lateral raise to shoulder height"}, "set": {"load_kg": 7.5, "target_reps": 3}, "view": {"name": "front", "yaw_deg": -4.25, "yaw_margin_deg": 9.0, "origin": "estimated", "known": true}, "quality": {"tracked_share": 0.9965, "frame_rate": 30.0, "subject_height_px": 812.5, "out_of_frame": {"left_foot_index": 0.031}, "low_visibility": {}, "notes": ["The left foot leaves the picture: film from a little further away."], "landmark_jitter": null, "problems": [], "notes_coded": []}, "reps": [{"number": 1, "start_s": 0.567, "top_s": 1.767, "end_s": 3.4, "complete": true, "tempo": {"eccentric_s": 1.5, "bottom_pause_s": 0.133, "concentric_s": 1.1, "top_pause_s": 0.233}, "by_hand": false}, {"number": 2, "start_s": 3.4, "top_s": 4.6, "end_s": 6.2, "complete": true, "tempo": {"eccentric_s": 1.433, "bottom_pause_s": 0.2, "concentric_s": 1.1, "top_pause_s": 0.2}, "by_hand": false}, {"number": 3, "start_s": 6.2, "top_s": 7.1, "end_s": 8.5, "complete": false, "tempo": {"eccentric_s": 0.9, "bottom_pause_s": 0.0, "concentric_s": 0.8, "top_pause_s": 0.1}, "by_hand": false}], "measures": [{"name": "arm_raise_peak", "side": "left", "rep": 1, "value": 89.42, "margin": 4.1, "unit": "deg", "missing_reason": null, "camera": null, "margin_origin": null, "missing_reason_coded": null}, {"name": "arm_raise_peak", "side": "right", "rep": 1, "value": 91.08, "margin": 4.1, "unit": "deg", "missing_reason": null, "camera": null, "margin_origin": null, "missing_reason_coded": null}, {"name": "arm_raise_peak", "side": "left", "rep": 3, "value": 47.3, "margin": 4.1, "unit": "deg", "missing_reason": null, "camera": null, "margin_origin": null, "missing_reason_coded": null}, {"name": "eccentric_time", "side": null, "rep": 1, "value": 1.5, "margin": 0.07, "unit": "s", "missing_reason": null, "camera": null, "margin_origin": null, "missing_reason_coded": null}, {"name": "torso_inclination_range", "side": null, "rep": 1, "value": null, "margin": null, "unit": "deg", "missing_reason": "Not measurable from the front: film from the side.", "camera": null, "margin_origin": null, "missing_reason_coded": {"code": "wrong-view", "parameters": {"view": "front", "film_from": ["side"]}}}, {"name": "range_share", "side": null, "rep": 3, "value": 0.5213, "margin": null, "unit": "ratio", "missing_reason": null, "camera": null, "margin_origin": null, "missing_reason_coded": null}], "findings": [{"check": "height", "verdict": "not_met", "reps": [3], "measure": "arm_raise_peak", "value": 47.3, "limit": 85.0, "at_s": 7.1, "text": "The arms stop well below the shoulders.", "basis": "common practice", "reason": null, "text_coded": null, "grade": null, "probability": null, "margin": null, "kind": "level"}, {"check": "swing", "verdict": "undecided", "reps": [1, 2, 3], "measure": "torso_inclination_range", "value": null, "limit": 10.0, "at_s": null, "text": "Swing cannot be told from the front.", "basis": "common practice", "reason": null, "text_coded": null, "grade": null, "probability": null, "margin": null, "kind": "level"}], "cautions": ["Stop if it hurts and have it looked at."], "second_camera": null, "by_hand": [], "parts": [], "by_hand_coded": [], "points": [], "measures_version": 1}');
INSERT INTO "documents" VALUES(2,'64aa481c520ffcc0ea7dd8de17f364cb4616106fe5e0bf7da20d63501e7566f6','{"schema": "formcheck-review", "version": 2, "clip": {"name": "invented-set-2.mp4", "sha256": "0000000000000000000000000000000000000000000000000000000000000002", "width": 608, "height": 1080, "duration_s": 9.433, "frames": 284, "frame_rate": 30.0, "variable_rate": false, "codec": "h264"}, "pose_model": {"name": "invented-model", "sha256": "9a3e5c77b2d1460f9a3e5c77b2d1460f9a3e5c77b2d1460f9a3e5c77b2d1460f"}, "exercise": {"id": "lateral-raise", "name": "Lateral raise to shoulder height"}, "set": {"load_kg": 7.5, "target_reps": 3}, "view": {"name": "front", "yaw_deg": -4.25, "yaw_margin_deg": 9.0, "origin": "estimated", "known": true}, "quality": {"tracked_share": 0.9965, "frame_rate": 30.0, "subject_height_px": 812.5, "out_of_frame": {"left_foot_index": 0.031}, "low_visibility": {}, "notes": ["The left foot leaves the picture: film from a little further away."], "landmark_jitter": null, "problems": [], "notes_coded": []}, "reps": [{"number": 1, "start_s": 0.567, "top_s": 1.767, "end_s": 3.4, "complete": true, "tempo": {"eccentric_s": 1.5, "bottom_pause_s": 0.133, "concentric_s": 1.1, "top_pause_s": 0.233}, "by_hand": false}, {"number": 2, "start_s": 3.4, "top_s": 4.6, "end_s": 6.2, "complete": true, "tempo": {"eccentric_s": 1.433, "bottom_pause_s": 0.2, "concentric_s": 1.1, "top_pause_s": 0.2}, "by_hand": false}, {"number": 3, "start_s": 6.2, "top_s": 7.1, "end_s": 8.5, "complete": false, "tempo": {"eccentric_s": 0.9, "bottom_pause_s": 0.0, "concentric_s": 0.8, "top_pause_s": 0.1}, "by_hand": false}], "measures": [{"name": "arm_raise_peak", "side": "left", "rep": 1, "value": 89.42, "margin": 4.1, "unit": "deg", "missing_reason": null, "camera": null, "margin_origin": null, "missing_reason_coded": null}, {"name": "arm_raise_peak", "side": "right", "rep": 1, "value": 91.08, "margin": 4.1, "unit": "deg", "missing_reason": null, "camera": null, "margin_origin": null, "missing_reason_coded": null}, {"name": "arm_raise_peak", "side": "left", "rep": 3, "value": 47.3, "margin": 4.1, "unit": "deg", "missing_reason": null, "camera": null, "margin_origin": null, "missing_reason_coded": null}, {"name": "eccentric_time", "side": null, "rep": 1, "value": 1.5, "margin": 0.07, "unit": "s", "missing_reason": null, "camera": null, "margin_origin": null, "missing_reason_coded": null}, {"name": "torso_inclination_range", "side": null, "rep": 1, "value": null, "margin": null, "unit": "deg", "missing_reason": "Not measurable from the front: film from the side.", "camera": null, "margin_origin": null, "missing_reason_coded": {"code": "wrong-view", "parameters": {"view": "front", "film_from": ["side"]}}}, {"name": "range_share", "side": null, "rep": 3, "value": 0.5213, "margin": null, "unit": "ratio", "missing_reason": null, "camera": null, "margin_origin": null, "missing_reason_coded": null}], "findings": [{"check": "height", "verdict": "not_met", "reps": [3], "measure": "arm_raise_peak", "value": 47.3, "limit": 85.0, "at_s": 7.1, "text": "The arms stop well below the shoulders.", "basis": "common practice", "reason": null, "text_coded": null, "grade": null, "probability": null, "margin": null, "kind": "level"}, {"check": "swing", "verdict": "undecided", "reps": [1, 2, 3], "measure": "torso_inclination_range", "value": null, "limit": 10.0, "at_s": null, "text": "Swing cannot be told from the front.", "basis": "common practice", "reason": null, "text_coded": null, "grade": null, "probability": null, "margin": null, "kind": "level"}], "cautions": ["Stop if it hurts and have it looked at."], "second_camera": null, "by_hand": [], "parts": [], "by_hand_coded": [], "points": [], "measures_version": 1}');
INSERT INTO "documents" VALUES(3,'6bb78bf0f43673378f3af26c9e9d70144c5b30371d30b884924f444d4a7318e4','{"schema": "formcheck-review", "version": 2, "clip": {"name": "invented-set-3.mp4", "sha256": "0000000000000000000000000000000000000000000000000000000000000003", "width": 608, "height": 1080, "duration_s": 9.433, "frames": 284, "frame_rate": 30.0, "variable_rate": false, "codec": "h264"}, "pose_model": {"name": "invented-model", "sha256": "9a3e5c77b2d1460f9a3e5c77b2d1460f9a3e5c77b2d1460f9a3e5c77b2d1460f"}, "exercise": {"id": "lateral-raise", "name": "Lateral raise to shoulder height"}, "set": {"load_kg": 7.5, "target_reps": 3}, "view": {"name": "front", "yaw_deg": -4.25, "yaw_margin_deg": 9.0, "origin": "estimated", "known": true}, "quality": {"tracked_share": 0.9965, "frame_rate": 30.0, "subject_height_px": 812.5, "out_of_frame": {"left_foot_index": 0.031}, "low_visibility": {}, "notes": ["The left foot leaves the picture: film from a little further away."], "landmark_jitter": null, "problems": [], "notes_coded": []}, "reps": [{"number": 1, "start_s": 0.567, "top_s": 1.767, "end_s": 3.4, "complete": true, "tempo": {"eccentric_s": 1.5, "bottom_pause_s": 0.133, "concentric_s": 1.1, "top_pause_s": 0.233}, "by_hand": false}, {"number": 2, "start_s": 3.4, "top_s": 4.6, "end_s": 6.2, "complete": true, "tempo": {"eccentric_s": 1.433, "bottom_pause_s": 0.2, "concentric_s": 1.1, "top_pause_s": 0.2}, "by_hand": false}, {"number": 3, "start_s": 6.2, "top_s": 7.1, "end_s": 8.5, "complete": false, "tempo": {"eccentric_s": 0.9, "bottom_pause_s": 0.0, "concentric_s": 0.8, "top_pause_s": 0.1}, "by_hand": false}], "measures": [{"name": "arm_raise_peak", "side": "left", "rep": 1, "value": 89.42, "margin": 4.1, "unit": "deg", "missing_reason": null, "camera": null, "margin_origin": null, "missing_reason_coded": null}, {"name": "arm_raise_peak", "side": "right", "rep": 1, "value": 91.08, "margin": 4.1, "unit": "deg", "missing_reason": null, "camera": null, "margin_origin": null, "missing_reason_coded": null}, {"name": "arm_raise_peak", "side": "left", "rep": 3, "value": 47.3, "margin": 4.1, "unit": "deg", "missing_reason": null, "camera": null, "margin_origin": null, "missing_reason_coded": null}, {"name": "eccentric_time", "side": null, "rep": 1, "value": 1.5, "margin": 0.07, "unit": "s", "missing_reason": null, "camera": null, "margin_origin": null, "missing_reason_coded": null}, {"name": "torso_inclination_range", "side": null, "rep": 1, "value": null, "margin": null, "unit": "deg", "missing_reason": "Not measurable from the front: film from the side.", "camera": null, "margin_origin": null, "missing_reason_coded": {"code": "wrong-view", "parameters": {"view": "front", "film_from": ["side"]}}}, {"name": "range_share", "side": null, "rep": 3, "value": 0.5213, "margin": null, "unit": "ratio", "missing_reason": null, "camera": null, "margin_origin": null, "missing_reason_coded": null}], "findings": [{"check": "height", "verdict": "not_met", "reps": [3], "measure": "arm_raise_peak", "value": 47.3, "limit": 85.0, "at_s": 7.1, "text": "The arms stop well below the shoulders.", "basis": "common practice", "reason": null, "text_coded": null, "grade": null, "probability": null, "margin": null, "kind": "level"}, {"check": "swing", "verdict": "undecided", "reps": [1, 2, 3], "measure": "torso_inclination_range", "value": null, "limit": 10.0, "at_s": null, "text": "Swing cannot be told from the front.", "basis": "common practice", "reason": null, "text_coded": null, "grade": null, "probability": null, "margin": null, "kind": "level"}], "cautions": ["Stop if it hurts and have it looked at."], "second_camera": null, "by_hand": [], "parts": [], "by_hand_coded": [], "points": [], "measures_version": 1}');
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
	result TEXT, excerpt TEXT, 
	FOREIGN KEY(of_review_id) REFERENCES reviews (id) ON DELETE CASCADE, 
	FOREIGN KEY(review_id) REFERENCES reviews (id) ON DELETE CASCADE
);
INSERT INTO "jobs" VALUES(1,'home','531135370bae14ccd9bb',1,'review',1,'clips/front','front.mp4','lateral-raise','front',NULL,NULL,NULL,NULL,NULL,'clips/side','side.mp4',0,'queued','Starting',0.0,NULL,NULL,NULL,NULL,1.0,NULL,NULL,0,0,NULL,NULL);
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
INSERT INTO "reviews" VALUES(1,'2026-03-01 12:00:00.000000',NULL,'invented-set-1.mp4','0000000000000000000000000000000000000000000000000000000000000001','lateral-raise','Lateral raise to shoulder height','front',7.5,3,2,1,0,1,1,1,'2026-03-01',1,NULL,0,NULL,'',0,0,0,NULL,NULL,NULL);
INSERT INTO "reviews" VALUES(2,'2026-03-01 12:00:00.000000',NULL,'invented-set-2.mp4','0000000000000000000000000000000000000000000000000000000000000002','lateral-raise','Lateral raise to shoulder height','front',7.5,3,2,1,0,1,1,1,'2026-03-08',1,NULL,0,NULL,'',0,0,0,NULL,NULL,NULL);
INSERT INTO "reviews" VALUES(3,'2026-03-01 12:00:00.000000',NULL,'invented-set-3.mp4','0000000000000000000000000000000000000000000000000000000000000003','lateral-raise','Lateral raise to shoulder height','front',7.5,3,2,1,0,1,1,NULL,'2026-03-08',1,NULL,0,NULL,'',0,0,0,NULL,NULL,NULL);
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
INSERT INTO "set_notes" VALUES(2,'2026-03-01 12:00:00.000000',NULL,7.0,NULL,NULL,NULL,NULL);
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
