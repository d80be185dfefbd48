-- Scores of recurring patterns, policies of the director.

-- CreateTable
CREATE TABLE "pattern_scoring" (
    "org_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "scored_at" TIMESTAMPTZ(6) NOT NULL,
    "rules" INTEGER NOT NULL,
    "vehicles" INTEGER NOT NULL,
    "proved_visits" INTEGER NOT NULL,
    "linked_share" DOUBLE PRECISION NOT NULL,

    CONSTRAINT "pattern_scoring_pkey" PRIMARY KEY ("org_id","id")
);

-- CreateTable
CREATE TABLE "pattern_score" (
    "org_id" UUID NOT NULL,
    "scoring_id" UUID NOT NULL,
    "cause" TEXT NOT NULL,
    "effect" TEXT NOT NULL,
    "place" INTEGER NOT NULL,
    "verdict" TEXT NOT NULL,
    "document" JSONB NOT NULL,

    CONSTRAINT "pattern_score_pkey" PRIMARY KEY ("org_id","scoring_id","cause","effect")
);

-- CreateTable
CREATE TABLE "policy" (
    "org_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "platform_id" UUID NOT NULL,
    "fault" TEXT NOT NULL,
    "action" TEXT NOT NULL,
    "rule" TEXT NOT NULL,
    "since" DATE NOT NULL,
    "ended_on" DATE,
    "note" TEXT,
    "created_at" TIMESTAMPTZ(6) NOT NULL,

    CONSTRAINT "policy_pkey" PRIMARY KEY ("org_id","id")
);

-- CreateIndex
CREATE INDEX "policy_org_id_platform_id_fault_idx" ON "policy"("org_id", "platform_id", "fault");

-- AddForeignKey
ALTER TABLE "pattern_score" ADD CONSTRAINT "pattern_score_org_id_scoring_id_fkey" FOREIGN KEY ("org_id", "scoring_id") REFERENCES "pattern_scoring"("org_id", "id") ON DELETE CASCADE ON UPDATE NO ACTION;

-- AddForeignKey
ALTER TABLE "policy" ADD CONSTRAINT "policy_org_id_platform_id_fkey" FOREIGN KEY ("org_id", "platform_id") REFERENCES "platform"("org_id", "id") ON DELETE RESTRICT ON UPDATE NO ACTION;

-- One tenant sees its own rows, in every session and for the owner too.
ALTER TABLE "pattern_scoring" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "pattern_scoring" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "pattern_scoring" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "pattern_scoring" TO coolback_app;
ALTER TABLE "pattern_score" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "pattern_score" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "pattern_score" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "pattern_score" TO coolback_app;
ALTER TABLE "policy" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "policy" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "policy" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "policy" TO coolback_app;
