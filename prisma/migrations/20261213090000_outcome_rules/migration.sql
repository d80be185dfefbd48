-- How an organisation tells returns apart: a row a version, the last one in force. Episodes name the rules they were derived by.

-- CreateTable
CREATE TABLE "outcome_rules" (
    "org_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "version" INTEGER NOT NULL,
    "same_visit_days" INTEGER NOT NULL,
    "look_back_days" INTEGER,
    "presence_days" INTEGER NOT NULL,
    "set_at" TIMESTAMPTZ(6) NOT NULL,

    CONSTRAINT "outcome_rules_pkey" PRIMARY KEY ("org_id","id")
);

-- CreateIndex
CREATE UNIQUE INDEX "outcome_rules_org_id_version_key" ON "outcome_rules"("org_id", "version");

-- One tenant sees its own rows, in every session and for the owner too.
ALTER TABLE "outcome_rules" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "outcome_rules" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "outcome_rules" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "outcome_rules" TO coolback_app;
