-- The episodes of a cell of the board in one value, column by column, so that a curve reads some dozens of values and not fifty thousand entries of an index.
-- Derived from the episodes by the fold of the boards; cells for which a change waits are read from the episodes themselves.

-- CreateTable
CREATE TABLE "episode_pack" (
    "org_id" UUID NOT NULL,
    "platform_id" UUID NOT NULL,
    "fault" TEXT NOT NULL,
    "intent" TEXT NOT NULL,
    "episodes" INTEGER NOT NULL,
    "digest" TEXT NOT NULL,
    "columns" BYTEA NOT NULL,
    "distances" BYTEA NOT NULL,

    CONSTRAINT "episode_pack_pkey" PRIMARY KEY ("org_id","platform_id","fault","intent")
);

-- CreateTable
CREATE TABLE "episode_packing" (
    "org_id" UUID NOT NULL,
    "layout" INTEGER NOT NULL,

    CONSTRAINT "episode_packing_pkey" PRIMARY KEY ("org_id")
);

-- Half of the bytes are random parts of identifiers: compressing them costs time in every question and saves little room.
ALTER TABLE "episode_pack" ALTER COLUMN "columns" SET STORAGE EXTERNAL;
ALTER TABLE "episode_pack" ALTER COLUMN "distances" SET STORAGE EXTERNAL;

-- One tenant sees its own rows, in every session and for the owner too.
ALTER TABLE "episode_pack" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "episode_pack" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "episode_pack" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "episode_pack" TO coolback_app;
ALTER TABLE "episode_packing" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "episode_packing" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "episode_packing" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "episode_packing" TO coolback_app;
