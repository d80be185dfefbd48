-- History judged again by the present engine: how far a run is, and what it changed.

-- CreateTable
CREATE TABLE "rediagnosis" (
    "org_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "engine_version" TEXT NOT NULL,
    "request" JSONB NOT NULL,
    "shop_ids" UUID[],
    "all_shops" BOOLEAN NOT NULL,
    "after" UUID,
    "tally" JSONB NOT NULL,
    "created_at" TIMESTAMPTZ(6) NOT NULL,

    CONSTRAINT "rediagnosis_pkey" PRIMARY KEY ("org_id","id")
);

-- CreateTable
CREATE TABLE "rediagnosis_change" (
    "org_id" UUID NOT NULL,
    "rediagnosis_id" UUID NOT NULL,
    "case_id" UUID NOT NULL,
    "from_leading" TEXT NOT NULL,
    "from_probability" DOUBLE PRECISION,
    "to_leading" TEXT NOT NULL,
    "to_probability" DOUBLE PRECISION,

    CONSTRAINT "rediagnosis_change_pkey" PRIMARY KEY ("org_id","rediagnosis_id","case_id")
);

-- CreateIndex
CREATE INDEX "rediagnosis_org_id_engine_version_idx" ON "rediagnosis"("org_id", "engine_version");

-- CreateIndex
CREATE INDEX "rediagnosis_change_org_id_case_id_idx" ON "rediagnosis_change"("org_id", "case_id");

-- AddForeignKey
ALTER TABLE "rediagnosis_change" ADD CONSTRAINT "rediagnosis_change_org_id_rediagnosis_id_fkey" FOREIGN KEY ("org_id", "rediagnosis_id") REFERENCES "rediagnosis"("org_id", "id") ON DELETE CASCADE ON UPDATE NO ACTION;

-- AddForeignKey
ALTER TABLE "rediagnosis_change" ADD CONSTRAINT "rediagnosis_change_org_id_case_id_fkey" FOREIGN KEY ("org_id", "case_id") REFERENCES "shop_case"("org_id", "id") ON DELETE CASCADE ON UPDATE NO ACTION;

-- One tenant sees its own rows, in every session and for the owner too.
ALTER TABLE "rediagnosis" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "rediagnosis" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "rediagnosis" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "rediagnosis" TO coolback_app;
ALTER TABLE "rediagnosis_change" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "rediagnosis_change" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "rediagnosis_change" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "rediagnosis_change" TO coolback_app;
