-- One statement a query: the runner splits this file, and distributed PostgreSQL takes one command a message.
-- Schema only: row-level security binds the owner too, so a data change here would silently touch no row.

-- CreateTable
CREATE TABLE "organisation" (
    "org_id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "slug" TEXT NOT NULL,
    "hash_key" BYTEA NOT NULL,
    "demo" BOOLEAN NOT NULL,
    "created_at" TIMESTAMPTZ(6) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "organisation_pkey" PRIMARY KEY ("org_id")
);

-- CreateTable
CREATE TABLE "shop" (
    "org_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "version" INTEGER NOT NULL,
    "code" TEXT NOT NULL,
    "name" TEXT NOT NULL,
    "elevation_m" DOUBLE PRECISION NOT NULL,
    "time_zone" TEXT NOT NULL,
    "normals" JSONB NOT NULL,
    "currency" TEXT NOT NULL,
    "labour_rate" DOUBLE PRECISION NOT NULL,
    "created_at" TIMESTAMPTZ(6) NOT NULL,
    "updated_at" TIMESTAMPTZ(6) NOT NULL,

    CONSTRAINT "shop_pkey" PRIMARY KEY ("org_id","id")
);

-- CreateTable
CREATE TABLE "member" (
    "org_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "version" INTEGER NOT NULL,
    "name" TEXT NOT NULL,
    "role" TEXT NOT NULL,
    "shop_ids" UUID[],
    "all_shops" BOOLEAN NOT NULL,
    "active" BOOLEAN NOT NULL,
    "created_at" TIMESTAMPTZ(6) NOT NULL,

    CONSTRAINT "member_pkey" PRIMARY KEY ("org_id","id")
);

-- CreateTable
CREATE TABLE "access_key" (
    "org_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "version" INTEGER NOT NULL,
    "name" TEXT NOT NULL,
    "hint" TEXT NOT NULL,
    "key_hash" BYTEA NOT NULL,
    "role" TEXT NOT NULL,
    "permissions" TEXT[],
    "shop_ids" UUID[],
    "all_shops" BOOLEAN NOT NULL,
    "created_at" TIMESTAMPTZ(6) NOT NULL,
    "expires_at" TIMESTAMPTZ(6),
    "revoked_at" TIMESTAMPTZ(6),
    "last_used_at" TIMESTAMPTZ(6),

    CONSTRAINT "access_key_pkey" PRIMARY KEY ("org_id","id")
);

-- CreateTable
CREATE TABLE "platform" (
    "org_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "version" INTEGER NOT NULL,
    "code" TEXT NOT NULL,
    "name" TEXT NOT NULL,
    "family" TEXT NOT NULL,
    "layout" TEXT NOT NULL,
    "compressor" TEXT NOT NULL,
    "refrigerant" TEXT NOT NULL,
    "charge_g" DOUBLE PRECISION NOT NULL,
    "first_year" INTEGER NOT NULL,
    "last_year" INTEGER NOT NULL,
    "vin_patterns" TEXT[],
    "description" JSONB NOT NULL,
    "created_at" TIMESTAMPTZ(6) NOT NULL,
    "updated_at" TIMESTAMPTZ(6) NOT NULL,

    CONSTRAINT "platform_pkey" PRIMARY KEY ("org_id","id")
);

-- CreateTable
CREATE TABLE "vehicle" (
    "org_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "vin_hash" BYTEA,
    "plate_hash" BYTEA,
    "platform_id" UUID,
    "model_year" INTEGER,
    "maker" TEXT,
    "plant" TEXT,
    "sequence_bucket" INTEGER,
    "created_at" TIMESTAMPTZ(6) NOT NULL,

    CONSTRAINT "vehicle_pkey" PRIMARY KEY ("org_id","id")
);

-- CreateTable
CREATE TABLE "sighting" (
    "org_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "vehicle_id" UUID NOT NULL,
    "shop_id" UUID NOT NULL,
    "day" DATE NOT NULL,
    "odometer_km" DOUBLE PRECISION,

    CONSTRAINT "sighting_pkey" PRIMARY KEY ("org_id","id")
);

-- CreateTable
CREATE TABLE "shop_case" (
    "org_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "version" INTEGER NOT NULL,
    "evidence_revision" INTEGER NOT NULL,
    "shop_id" UUID NOT NULL,
    "vehicle_id" UUID,
    "platform_id" UUID,
    "status" TEXT NOT NULL,
    "complaint" TEXT NOT NULL,
    "complaint_text" TEXT,
    "notes" TEXT,
    "opened_at" TIMESTAMPTZ(6) NOT NULL,
    "closed_at" TIMESTAMPTZ(6),
    "odometer_km" DOUBLE PRECISION,
    "leading_fault" TEXT,
    "leading_probability" DOUBLE PRECISION,
    "proved_faults" TEXT[],
    "source_system" TEXT,
    "source_reference" TEXT,
    "source_revision" INTEGER,
    "source_hash" BYTEA,
    "source_link" TEXT,
    "backfill" BOOLEAN NOT NULL,
    "warnings" JSONB NOT NULL,
    "created_at" TIMESTAMPTZ(6) NOT NULL,
    "updated_at" TIMESTAMPTZ(6) NOT NULL,

    CONSTRAINT "shop_case_pkey" PRIMARY KEY ("org_id","id")
);

-- CreateTable
CREATE TABLE "case_evidence" (
    "org_id" UUID NOT NULL,
    "case_id" UUID NOT NULL,
    "revision" INTEGER NOT NULL,
    "document" JSONB NOT NULL,
    "created_at" TIMESTAMPTZ(6) NOT NULL,

    CONSTRAINT "case_evidence_pkey" PRIMARY KEY ("org_id","case_id","revision")
);

-- CreateTable
CREATE TABLE "diagnosis" (
    "org_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "case_id" UUID NOT NULL,
    "case_revision" INTEGER NOT NULL,
    "engine_version" TEXT NOT NULL,
    "result" JSONB NOT NULL,
    "signature_version" TEXT NOT NULL,
    "signature" DOUBLE PRECISION[],
    "created_at" TIMESTAMPTZ(6) NOT NULL,

    CONSTRAINT "diagnosis_pkey" PRIMARY KEY ("org_id","id")
);

-- CreateTable
CREATE TABLE "case_signature" (
    "org_id" UUID NOT NULL,
    "case_id" UUID NOT NULL,
    "version" TEXT NOT NULL,
    "layout" TEXT NOT NULL,
    "leading_fault" TEXT,
    "opened_at" TIMESTAMPTZ(6) NOT NULL,
    "values" DOUBLE PRECISION[],

    CONSTRAINT "case_signature_pkey" PRIMARY KEY ("org_id","case_id")
);

-- CreateTable
CREATE TABLE "case_word" (
    "org_id" UUID NOT NULL,
    "word" TEXT NOT NULL,
    "case_id" UUID NOT NULL,

    CONSTRAINT "case_word_pkey" PRIMARY KEY ("org_id","word","case_id")
);

-- CreateTable
CREATE TABLE "proof" (
    "org_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "case_id" UUID NOT NULL,
    "faults" TEXT[],
    "method" TEXT NOT NULL,
    "note" TEXT,
    "created_at" TIMESTAMPTZ(6) NOT NULL,

    CONSTRAINT "proof_pkey" PRIMARY KEY ("org_id","id")
);

-- CreateTable
CREATE TABLE "repair" (
    "org_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "case_id" UUID NOT NULL,
    "shop_id" UUID NOT NULL,
    "vehicle_id" UUID,
    "fault" TEXT NOT NULL,
    "action" TEXT NOT NULL,
    "intent" TEXT NOT NULL,
    "day" DATE NOT NULL,
    "parts" JSONB NOT NULL,
    "recovered_g" DOUBLE PRECISION,
    "charged_g" DOUBLE PRECISION,
    "labour_hours" DOUBLE PRECISION,
    "cost" DOUBLE PRECISION,
    "note" TEXT,
    "created_at" TIMESTAMPTZ(6) NOT NULL,

    CONSTRAINT "repair_pkey" PRIMARY KEY ("org_id","id")
);

-- CreateTable
CREATE TABLE "episode" (
    "org_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "repair_id" UUID NOT NULL,
    "case_id" UUID NOT NULL,
    "vehicle_id" UUID,
    "platform_id" UUID,
    "shop_id" UUID NOT NULL,
    "fault" TEXT NOT NULL,
    "action" TEXT NOT NULL,
    "intent" TEXT NOT NULL,
    "started_on" DATE NOT NULL,
    "end_kind" TEXT NOT NULL,
    "ended_on" DATE NOT NULL,
    "end_case_id" UUID,
    "end_shop_id" UUID,
    "distance_km" DOUBLE PRECISION,
    "linked_by" TEXT NOT NULL,
    "rules" INTEGER NOT NULL,

    CONSTRAINT "episode_pkey" PRIMARY KEY ("org_id","id")
);

-- CreateTable
CREATE TABLE "audit_event" (
    "org_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "at" TIMESTAMPTZ(6) NOT NULL,
    "credential_id" UUID,
    "action" TEXT NOT NULL,
    "subject_type" TEXT NOT NULL,
    "subject_id" UUID NOT NULL,
    "request_id" TEXT,
    "change" JSONB NOT NULL,

    CONSTRAINT "audit_event_pkey" PRIMARY KEY ("org_id","id")
);

-- CreateTable
CREATE TABLE "idempotency_key" (
    "org_id" UUID NOT NULL,
    "credential_id" UUID NOT NULL,
    "key" TEXT NOT NULL,
    "fingerprint" BYTEA NOT NULL,
    "status" INTEGER NOT NULL,
    "headers" JSONB NOT NULL,
    "body" TEXT NOT NULL,
    "created_at" TIMESTAMPTZ(6) NOT NULL,

    CONSTRAINT "idempotency_key_pkey" PRIMARY KEY ("org_id","credential_id","key")
);

-- CreateTable
CREATE TABLE "outbox_event" (
    "org_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "kind" TEXT NOT NULL,
    "subject_id" UUID NOT NULL,
    "body" JSONB NOT NULL,
    "created_at" TIMESTAMPTZ(6) NOT NULL,
    "delivered_at" TIMESTAMPTZ(6),

    CONSTRAINT "outbox_event_pkey" PRIMARY KEY ("org_id","id")
);

-- CreateTable
CREATE TABLE "task" (
    "org_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "kind" TEXT NOT NULL,
    "state" TEXT NOT NULL,
    "done" INTEGER NOT NULL,
    "total" INTEGER NOT NULL,
    "detail" TEXT,
    "created_at" TIMESTAMPTZ(6) NOT NULL,
    "updated_at" TIMESTAMPTZ(6) NOT NULL,

    CONSTRAINT "task_pkey" PRIMARY KEY ("org_id","id")
);

-- CreateIndex
CREATE UNIQUE INDEX "shop_org_id_code_key" ON "shop"("org_id", "code");

-- CreateIndex
CREATE UNIQUE INDEX "access_key_org_id_key_hash_key" ON "access_key"("org_id", "key_hash");

-- CreateIndex
CREATE UNIQUE INDEX "platform_org_id_code_key" ON "platform"("org_id", "code");

-- CreateIndex
CREATE INDEX "vehicle_org_id_plate_hash_idx" ON "vehicle"("org_id", "plate_hash");

-- CreateIndex
CREATE UNIQUE INDEX "vehicle_org_id_vin_hash_key" ON "vehicle"("org_id", "vin_hash");

-- CreateIndex
CREATE UNIQUE INDEX "sighting_org_id_vehicle_id_shop_id_day_key" ON "sighting"("org_id", "vehicle_id", "shop_id", "day");

-- CreateIndex
CREATE INDEX "shop_case_org_id_opened_at_id_idx" ON "shop_case"("org_id", "opened_at" DESC, "id" DESC);

-- CreateIndex
CREATE INDEX "shop_case_org_id_shop_id_opened_at_id_idx" ON "shop_case"("org_id", "shop_id", "opened_at" DESC, "id" DESC);

-- CreateIndex
CREATE INDEX "shop_case_org_id_vehicle_id_opened_at_idx" ON "shop_case"("org_id", "vehicle_id", "opened_at");

-- CreateIndex
CREATE INDEX "shop_case_org_id_platform_id_leading_fault_opened_at_idx" ON "shop_case"("org_id", "platform_id", "leading_fault", "opened_at" DESC);

-- CreateIndex
CREATE UNIQUE INDEX "shop_case_org_id_source_system_source_reference_key" ON "shop_case"("org_id", "source_system", "source_reference");

-- CreateIndex
CREATE UNIQUE INDEX "diagnosis_org_id_case_id_case_revision_engine_version_key" ON "diagnosis"("org_id", "case_id", "case_revision", "engine_version");

-- CreateIndex
CREATE INDEX "case_signature_org_id_version_layout_opened_at_idx" ON "case_signature"("org_id", "version", "layout", "opened_at" DESC);

-- CreateIndex
CREATE INDEX "case_signature_org_id_version_layout_leading_fault_opened_a_idx" ON "case_signature"("org_id", "version", "layout", "leading_fault", "opened_at" DESC);

-- CreateIndex
CREATE INDEX "case_word_org_id_case_id_idx" ON "case_word"("org_id", "case_id");

-- CreateIndex
CREATE INDEX "proof_org_id_case_id_idx" ON "proof"("org_id", "case_id");

-- CreateIndex
CREATE INDEX "repair_org_id_case_id_idx" ON "repair"("org_id", "case_id");

-- CreateIndex
CREATE INDEX "repair_org_id_vehicle_id_day_idx" ON "repair"("org_id", "vehicle_id", "day");

-- CreateIndex
CREATE INDEX "episode_org_id_platform_id_fault_intent_started_on_idx" ON "episode"("org_id", "platform_id", "fault", "intent", "started_on");

-- CreateIndex
CREATE INDEX "episode_org_id_fault_intent_started_on_idx" ON "episode"("org_id", "fault", "intent", "started_on");

-- CreateIndex
CREATE INDEX "episode_org_id_vehicle_id_idx" ON "episode"("org_id", "vehicle_id");

-- CreateIndex
CREATE UNIQUE INDEX "episode_org_id_repair_id_key" ON "episode"("org_id", "repair_id");

-- CreateIndex
CREATE INDEX "audit_event_org_id_subject_id_id_idx" ON "audit_event"("org_id", "subject_id", "id");

-- CreateIndex
CREATE INDEX "idempotency_key_org_id_created_at_idx" ON "idempotency_key"("org_id", "created_at");

-- CreateIndex
CREATE INDEX "outbox_event_org_id_delivered_at_id_idx" ON "outbox_event"("org_id", "delivered_at", "id");

-- CreateIndex
CREATE INDEX "task_org_id_kind_created_at_idx" ON "task"("org_id", "kind", "created_at");

-- AddForeignKey
ALTER TABLE "vehicle" ADD CONSTRAINT "vehicle_org_id_platform_id_fkey" FOREIGN KEY ("org_id", "platform_id") REFERENCES "platform"("org_id", "id") ON DELETE RESTRICT ON UPDATE NO ACTION;

-- AddForeignKey
ALTER TABLE "sighting" ADD CONSTRAINT "sighting_org_id_vehicle_id_fkey" FOREIGN KEY ("org_id", "vehicle_id") REFERENCES "vehicle"("org_id", "id") ON DELETE CASCADE ON UPDATE NO ACTION;

-- AddForeignKey
ALTER TABLE "sighting" ADD CONSTRAINT "sighting_org_id_shop_id_fkey" FOREIGN KEY ("org_id", "shop_id") REFERENCES "shop"("org_id", "id") ON DELETE RESTRICT ON UPDATE NO ACTION;

-- AddForeignKey
ALTER TABLE "shop_case" ADD CONSTRAINT "shop_case_org_id_shop_id_fkey" FOREIGN KEY ("org_id", "shop_id") REFERENCES "shop"("org_id", "id") ON DELETE RESTRICT ON UPDATE NO ACTION;

-- AddForeignKey
ALTER TABLE "shop_case" ADD CONSTRAINT "shop_case_org_id_vehicle_id_fkey" FOREIGN KEY ("org_id", "vehicle_id") REFERENCES "vehicle"("org_id", "id") ON DELETE RESTRICT ON UPDATE NO ACTION;

-- AddForeignKey
ALTER TABLE "shop_case" ADD CONSTRAINT "shop_case_org_id_platform_id_fkey" FOREIGN KEY ("org_id", "platform_id") REFERENCES "platform"("org_id", "id") ON DELETE RESTRICT ON UPDATE NO ACTION;

-- AddForeignKey
ALTER TABLE "case_evidence" ADD CONSTRAINT "case_evidence_org_id_case_id_fkey" FOREIGN KEY ("org_id", "case_id") REFERENCES "shop_case"("org_id", "id") ON DELETE CASCADE ON UPDATE NO ACTION;

-- AddForeignKey
ALTER TABLE "diagnosis" ADD CONSTRAINT "diagnosis_org_id_case_id_fkey" FOREIGN KEY ("org_id", "case_id") REFERENCES "shop_case"("org_id", "id") ON DELETE CASCADE ON UPDATE NO ACTION;

-- AddForeignKey
ALTER TABLE "case_signature" ADD CONSTRAINT "case_signature_org_id_case_id_fkey" FOREIGN KEY ("org_id", "case_id") REFERENCES "shop_case"("org_id", "id") ON DELETE CASCADE ON UPDATE NO ACTION;

-- AddForeignKey
ALTER TABLE "case_word" ADD CONSTRAINT "case_word_org_id_case_id_fkey" FOREIGN KEY ("org_id", "case_id") REFERENCES "shop_case"("org_id", "id") ON DELETE CASCADE ON UPDATE NO ACTION;

-- AddForeignKey
ALTER TABLE "proof" ADD CONSTRAINT "proof_org_id_case_id_fkey" FOREIGN KEY ("org_id", "case_id") REFERENCES "shop_case"("org_id", "id") ON DELETE CASCADE ON UPDATE NO ACTION;

-- AddForeignKey
ALTER TABLE "repair" ADD CONSTRAINT "repair_org_id_case_id_fkey" FOREIGN KEY ("org_id", "case_id") REFERENCES "shop_case"("org_id", "id") ON DELETE CASCADE ON UPDATE NO ACTION;

-- AddForeignKey
ALTER TABLE "episode" ADD CONSTRAINT "episode_org_id_repair_id_fkey" FOREIGN KEY ("org_id", "repair_id") REFERENCES "repair"("org_id", "id") ON DELETE CASCADE ON UPDATE NO ACTION;


-- Row-level security: one permissive policy a table, comparing only with the transaction's setting
ALTER TABLE "organisation" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "organisation" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "organisation" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "organisation" TO coolback_app;
ALTER TABLE "shop" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "shop" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "shop" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "shop" TO coolback_app;
ALTER TABLE "member" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "member" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "member" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "member" TO coolback_app;
ALTER TABLE "access_key" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "access_key" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "access_key" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "access_key" TO coolback_app;
ALTER TABLE "platform" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "platform" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "platform" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "platform" TO coolback_app;
ALTER TABLE "vehicle" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "vehicle" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "vehicle" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "vehicle" TO coolback_app;
ALTER TABLE "sighting" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "sighting" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "sighting" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "sighting" TO coolback_app;
ALTER TABLE "shop_case" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "shop_case" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "shop_case" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "shop_case" TO coolback_app;
ALTER TABLE "case_evidence" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "case_evidence" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "case_evidence" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, DELETE ON "case_evidence" TO coolback_app;
ALTER TABLE "diagnosis" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "diagnosis" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "diagnosis" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "diagnosis" TO coolback_app;
ALTER TABLE "case_signature" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "case_signature" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "case_signature" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "case_signature" TO coolback_app;
ALTER TABLE "case_word" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "case_word" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "case_word" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "case_word" TO coolback_app;
ALTER TABLE "proof" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "proof" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "proof" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "proof" TO coolback_app;
ALTER TABLE "repair" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "repair" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "repair" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "repair" TO coolback_app;
ALTER TABLE "episode" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "episode" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "episode" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "episode" TO coolback_app;
ALTER TABLE "audit_event" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "audit_event" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "audit_event" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT ON "audit_event" TO coolback_app;
ALTER TABLE "idempotency_key" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "idempotency_key" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "idempotency_key" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "idempotency_key" TO coolback_app;
ALTER TABLE "outbox_event" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "outbox_event" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "outbox_event" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "outbox_event" TO coolback_app;
ALTER TABLE "task" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "task" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "task" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "task" TO coolback_app;

-- The application role may hand work to the queue, and nothing else of it. Payloads hold identifiers only.
CREATE FUNCTION enqueue(job text, org uuid, subject uuid) RETURNS void
  LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog AS $$
BEGIN
  PERFORM graphile_worker.add_job(
    job,
    pg_catalog.json_build_object('orgId', org, 'subjectId', subject),
    job_key := job || ':' || org::text || ':' || subject::text
  );
END
$$;
REVOKE ALL ON FUNCTION enqueue(text, uuid, uuid) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION enqueue(text, uuid, uuid) TO coolback_app;
