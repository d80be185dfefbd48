-- Files that come in, mappings, addresses that are told of events.

-- AlterTable
ALTER TABLE "outbox_event" ADD COLUMN "position" BIGINT;

-- CreateTable
CREATE TABLE "import_mapping" (
    "org_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "version" INTEGER NOT NULL,
    "name" TEXT NOT NULL,
    "document" JSONB NOT NULL,
    "created_at" TIMESTAMPTZ(6) NOT NULL,
    "updated_at" TIMESTAMPTZ(6) NOT NULL,

    CONSTRAINT "import_mapping_pkey" PRIMARY KEY ("org_id","id")
);

-- CreateTable
CREATE TABLE "import_run" (
    "org_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "state" TEXT NOT NULL,
    "attempt" INTEGER NOT NULL,
    "format" TEXT NOT NULL,
    "credential_id" UUID NOT NULL,
    "role" TEXT NOT NULL,
    "permissions" TEXT[],
    "shop_ids" UUID[],
    "all_shops" BOOLEAN NOT NULL,
    "request_key" TEXT NOT NULL,
    "digest" BYTEA,
    "options" JSONB NOT NULL,
    "columns" TEXT[],
    "chunks" INTEGER NOT NULL,
    "next_chunk" INTEGER NOT NULL,
    "received" INTEGER NOT NULL,
    "opened" INTEGER NOT NULL,
    "revised" INTEGER NOT NULL,
    "unchanged" INTEGER NOT NULL,
    "rejected" INTEGER NOT NULL,
    "detail" TEXT,
    "created_at" TIMESTAMPTZ(6) NOT NULL,
    "updated_at" TIMESTAMPTZ(6) NOT NULL,

    CONSTRAINT "import_run_pkey" PRIMARY KEY ("org_id","id")
);

-- CreateTable
CREATE TABLE "import_chunk" (
    "org_id" UUID NOT NULL,
    "import_id" UUID NOT NULL,
    "number" INTEGER NOT NULL,
    "rows" INTEGER NOT NULL,
    "body" BYTEA NOT NULL,

    CONSTRAINT "import_chunk_pkey" PRIMARY KEY ("org_id","import_id","number")
);

-- CreateTable
CREATE TABLE "import_row" (
    "org_id" UUID NOT NULL,
    "import_id" UUID NOT NULL,
    "line" INTEGER NOT NULL,
    "reference" TEXT,
    "outcome" TEXT NOT NULL,
    "case_id" UUID,
    "problems" JSONB NOT NULL,
    "sealed" BYTEA,
    "corrected" BOOLEAN NOT NULL,
    "created_at" TIMESTAMPTZ(6) NOT NULL,

    CONSTRAINT "import_row_pkey" PRIMARY KEY ("org_id","import_id","line")
);

-- CreateTable
CREATE TABLE "webhook" (
    "org_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "version" INTEGER NOT NULL,
    "url" TEXT NOT NULL,
    "kinds" TEXT[],
    "enabled" BOOLEAN NOT NULL,
    "disabled_why" TEXT,
    "secret" BYTEA NOT NULL,
    "previous_secret" BYTEA,
    "previous_until" TIMESTAMPTZ(6),
    "created_at" TIMESTAMPTZ(6) NOT NULL,
    "updated_at" TIMESTAMPTZ(6) NOT NULL,

    CONSTRAINT "webhook_pkey" PRIMARY KEY ("org_id","id")
);

-- CreateTable
CREATE TABLE "webhook_delivery" (
    "org_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "webhook_id" UUID NOT NULL,
    "event_id" UUID NOT NULL,
    "subject_id" UUID NOT NULL,
    "kind" TEXT NOT NULL,
    "position" BIGINT NOT NULL,
    "state" TEXT NOT NULL,
    "attempts" INTEGER NOT NULL,
    "next_at" TIMESTAMPTZ(6),
    "leased_until" TIMESTAMPTZ(6),
    "log" JSONB NOT NULL,
    "created_at" TIMESTAMPTZ(6) NOT NULL,
    "delivered_at" TIMESTAMPTZ(6),

    CONSTRAINT "webhook_delivery_pkey" PRIMARY KEY ("org_id","id")
);

-- CreateIndex
CREATE UNIQUE INDEX "import_mapping_org_id_name_key" ON "import_mapping"("org_id", "name");

-- CreateIndex
CREATE INDEX "import_run_org_id_created_at_idx" ON "import_run"("org_id", "created_at");

-- CreateIndex
CREATE UNIQUE INDEX "import_run_org_id_credential_id_request_key_key" ON "import_run"("org_id", "credential_id", "request_key");

-- CreateIndex
CREATE INDEX "import_row_org_id_import_id_outcome_line_idx" ON "import_row"("org_id", "import_id", "outcome", "line");

-- CreateIndex
CREATE INDEX "webhook_delivery_org_id_webhook_id_subject_id_state_positio_idx" ON "webhook_delivery"("org_id", "webhook_id", "subject_id", "state", "position");

-- CreateIndex
CREATE INDEX "webhook_delivery_org_id_webhook_id_created_at_id_idx" ON "webhook_delivery"("org_id", "webhook_id", "created_at", "id");

-- CreateIndex
CREATE UNIQUE INDEX "webhook_delivery_org_id_webhook_id_event_id_key" ON "webhook_delivery"("org_id", "webhook_id", "event_id");

-- CreateIndex
CREATE UNIQUE INDEX "outbox_event_org_id_position_key" ON "outbox_event"("org_id", "position");

-- AddForeignKey
ALTER TABLE "import_chunk" ADD CONSTRAINT "import_chunk_org_id_import_id_fkey" FOREIGN KEY ("org_id", "import_id") REFERENCES "import_run"("org_id", "id") ON DELETE CASCADE ON UPDATE NO ACTION;

-- AddForeignKey
ALTER TABLE "import_row" ADD CONSTRAINT "import_row_org_id_import_id_fkey" FOREIGN KEY ("org_id", "import_id") REFERENCES "import_run"("org_id", "id") ON DELETE CASCADE ON UPDATE NO ACTION;

-- AddForeignKey
ALTER TABLE "webhook_delivery" ADD CONSTRAINT "webhook_delivery_org_id_webhook_id_fkey" FOREIGN KEY ("org_id", "webhook_id") REFERENCES "webhook"("org_id", "id") ON DELETE CASCADE ON UPDATE NO ACTION;

-- Row-level security: one permissive policy a table, comparing only with the transaction's setting
ALTER TABLE "import_mapping" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "import_mapping" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "import_mapping" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "import_mapping" TO coolback_app;
ALTER TABLE "import_run" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "import_run" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "import_run" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "import_run" TO coolback_app;
ALTER TABLE "import_chunk" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "import_chunk" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "import_chunk" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "import_chunk" TO coolback_app;
ALTER TABLE "import_row" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "import_row" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "import_row" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "import_row" TO coolback_app;
ALTER TABLE "webhook" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "webhook" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "webhook" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "webhook" TO coolback_app;
ALTER TABLE "webhook_delivery" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "webhook_delivery" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "webhook_delivery" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "webhook_delivery" TO coolback_app;

-- As enqueue(), for work that has its time: the next try of a delivery.
CREATE FUNCTION enqueue_at(job text, org uuid, subject uuid, due timestamptz) RETURNS void
  LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog AS $$
BEGIN
  PERFORM graphile_worker.add_job(
    job,
    pg_catalog.json_build_object('orgId', org, 'subjectId', subject),
    run_at := due,
    job_key := job || ':' || org::text || ':' || subject::text
  );
END
$$;
REVOKE ALL ON FUNCTION enqueue_at(text, uuid, uuid, timestamptz) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION enqueue_at(text, uuid, uuid, timestamptz) TO coolback_app;
