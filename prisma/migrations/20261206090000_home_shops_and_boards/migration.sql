-- Where the vehicle of an episode lives; an index that answers a platform by itself; the board as it was last folded.

-- AlterTable
ALTER TABLE "episode" ADD COLUMN     "home_shop_id" UUID;

-- DropIndex
DROP INDEX "episode_org_id_platform_id_fault_intent_started_on_idx";

-- Everything a curve needs lies in the index: a platform is answered without a look at the table.
-- CreateIndex
CREATE INDEX "episode_covering_idx" ON "episode"("org_id", "platform_id", "fault", "intent", "started_on", "ended_on", "end_kind", "shop_id", "home_shop_id", "vehicle_id", "linked_by", "distance_km", "action");

-- CreateTable
CREATE TABLE "board_roll" (
    "org_id" UUID NOT NULL,
    "clock" TEXT NOT NULL,
    "horizon" DOUBLE PRECISION NOT NULL,
    "day" DATE NOT NULL,
    "basis" TEXT NOT NULL,
    "made_at" TIMESTAMPTZ(6) NOT NULL,

    CONSTRAINT "board_roll_pkey" PRIMARY KEY ("org_id","clock")
);

-- CreateTable
CREATE TABLE "board_line" (
    "org_id" UUID NOT NULL,
    "clock" TEXT NOT NULL,
    "platform_id" UUID NOT NULL,
    "fault" TEXT NOT NULL,
    "intent" TEXT NOT NULL,
    "episodes" INTEGER NOT NULL,
    "linked" INTEGER NOT NULL,
    "returns" INTEGER NOT NULL,
    "shops" INTEGER NOT NULL,
    "recent" INTEGER NOT NULL,
    "own" DOUBLE PRECISION NOT NULL,
    "effective_n" DOUBLE PRECISION NOT NULL,
    "effective_events" DOUBLE PRECISION NOT NULL,
    "probability" DOUBLE PRECISION NOT NULL,
    "low" DOUBLE PRECISION NOT NULL,
    "high" DOUBLE PRECISION NOT NULL,
    "borrowed" DOUBLE PRECISION NOT NULL,
    "shown_from" TEXT NOT NULL,

    CONSTRAINT "board_line_pkey" PRIMARY KEY ("org_id","clock","platform_id","fault","intent")
);

-- CreateTable
CREATE TABLE "board_change" (
    "org_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "platform_id" UUID NOT NULL,
    "fault" TEXT NOT NULL,
    "intent" TEXT NOT NULL,

    CONSTRAINT "board_change_pkey" PRIMARY KEY ("org_id","id")
);

-- AddForeignKey
ALTER TABLE "board_line" ADD CONSTRAINT "board_line_org_id_clock_fkey" FOREIGN KEY ("org_id", "clock") REFERENCES "board_roll"("org_id", "clock") ON DELETE CASCADE ON UPDATE NO ACTION;

-- One tenant sees its own rows, in every session and for the owner too.
ALTER TABLE "board_roll" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "board_roll" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "board_roll" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "board_roll" TO coolback_app;
ALTER TABLE "board_line" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "board_line" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "board_line" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "board_line" TO coolback_app;
ALTER TABLE "board_change" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "board_change" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "board_change" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "board_change" TO coolback_app;
