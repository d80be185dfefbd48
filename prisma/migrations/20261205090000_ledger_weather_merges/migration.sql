-- What a shop holds of refrigerant and how it is weighed; daily weather; records found to be one car; what stored scores were made from.

-- AlterTable
ALTER TABLE "repair" ADD COLUMN     "machine_id" UUID;

-- AlterTable
ALTER TABLE "vehicle" ADD COLUMN     "merged_into" UUID;

-- CreateIndex
CREATE INDEX "vehicle_org_id_merged_into_idx" ON "vehicle"("org_id", "merged_into");

-- AlterTable
ALTER TABLE "pattern_scoring" ADD COLUMN     "basis" TEXT;

-- AlterTable
ALTER TABLE "watch_scoring" ADD COLUMN     "basis" TEXT;

-- CreateTable
CREATE TABLE "shop_weather" (
    "org_id" UUID NOT NULL,
    "shop_id" UUID NOT NULL,
    "year" INTEGER NOT NULL,
    "means_c" DOUBLE PRECISION[],
    "updated_at" TIMESTAMPTZ(6) NOT NULL,

    CONSTRAINT "shop_weather_pkey" PRIMARY KEY ("org_id","shop_id","year")
);

-- CreateTable
CREATE TABLE "vehicle_merge" (
    "org_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "vehicle_id" UUID NOT NULL,
    "merged_id" UUID NOT NULL,
    "reason" TEXT NOT NULL,
    "case_ids" UUID[],
    "sighting_ids" UUID[],
    "merged_at" TIMESTAMPTZ(6) NOT NULL,
    "undone_at" TIMESTAMPTZ(6),

    CONSTRAINT "vehicle_merge_pkey" PRIMARY KEY ("org_id","id")
);

-- CreateTable
CREATE TABLE "charging_machine" (
    "org_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "version" INTEGER NOT NULL,
    "shop_id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "refrigerant" TEXT NOT NULL,
    "scale_error_g" DOUBLE PRECISION NOT NULL,
    "checked_on" DATE,
    "retired_on" DATE,
    "created_at" TIMESTAMPTZ(6) NOT NULL,

    CONSTRAINT "charging_machine_pkey" PRIMARY KEY ("org_id","id")
);

-- CreateTable
CREATE TABLE "refrigerant_cylinder" (
    "org_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "version" INTEGER NOT NULL,
    "shop_id" UUID NOT NULL,
    "label" TEXT NOT NULL,
    "refrigerant" TEXT NOT NULL,
    "content" TEXT NOT NULL,
    "capacity_g" DOUBLE PRECISION NOT NULL,
    "retired_on" DATE,
    "created_at" TIMESTAMPTZ(6) NOT NULL,

    CONSTRAINT "refrigerant_cylinder_pkey" PRIMARY KEY ("org_id","id")
);

-- CreateTable
CREATE TABLE "refrigerant_entry" (
    "org_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "version" INTEGER NOT NULL,
    "shop_id" UUID NOT NULL,
    "kind" TEXT NOT NULL,
    "refrigerant" TEXT NOT NULL,
    "mass_g" DOUBLE PRECISION NOT NULL,
    "day" DATE NOT NULL,
    "cylinder_id" UUID,
    "machine_id" UUID,
    "to_shop_id" UUID,
    "document" TEXT,
    "note" TEXT,
    "created_at" TIMESTAMPTZ(6) NOT NULL,

    CONSTRAINT "refrigerant_entry_pkey" PRIMARY KEY ("org_id","id")
);

-- CreateIndex
CREATE INDEX "vehicle_merge_org_id_vehicle_id_idx" ON "vehicle_merge"("org_id", "vehicle_id");

-- CreateIndex
CREATE INDEX "vehicle_merge_org_id_merged_id_idx" ON "vehicle_merge"("org_id", "merged_id");

-- CreateIndex
CREATE INDEX "charging_machine_org_id_shop_id_idx" ON "charging_machine"("org_id", "shop_id");

-- CreateIndex
CREATE INDEX "refrigerant_cylinder_org_id_shop_id_idx" ON "refrigerant_cylinder"("org_id", "shop_id");

-- CreateIndex
CREATE INDEX "refrigerant_entry_org_id_shop_id_day_idx" ON "refrigerant_entry"("org_id", "shop_id", "day");

-- AddForeignKey
ALTER TABLE "repair" ADD CONSTRAINT "repair_org_id_machine_id_fkey" FOREIGN KEY ("org_id", "machine_id") REFERENCES "charging_machine"("org_id", "id") ON DELETE RESTRICT ON UPDATE NO ACTION;

-- AddForeignKey
ALTER TABLE "shop_weather" ADD CONSTRAINT "shop_weather_org_id_shop_id_fkey" FOREIGN KEY ("org_id", "shop_id") REFERENCES "shop"("org_id", "id") ON DELETE RESTRICT ON UPDATE NO ACTION;

-- AddForeignKey
ALTER TABLE "vehicle_merge" ADD CONSTRAINT "vehicle_merge_org_id_vehicle_id_fkey" FOREIGN KEY ("org_id", "vehicle_id") REFERENCES "vehicle"("org_id", "id") ON DELETE CASCADE ON UPDATE NO ACTION;

-- AddForeignKey
ALTER TABLE "vehicle_merge" ADD CONSTRAINT "vehicle_merge_org_id_merged_id_fkey" FOREIGN KEY ("org_id", "merged_id") REFERENCES "vehicle"("org_id", "id") ON DELETE CASCADE ON UPDATE NO ACTION;

-- AddForeignKey
ALTER TABLE "charging_machine" ADD CONSTRAINT "charging_machine_org_id_shop_id_fkey" FOREIGN KEY ("org_id", "shop_id") REFERENCES "shop"("org_id", "id") ON DELETE RESTRICT ON UPDATE NO ACTION;

-- AddForeignKey
ALTER TABLE "refrigerant_cylinder" ADD CONSTRAINT "refrigerant_cylinder_org_id_shop_id_fkey" FOREIGN KEY ("org_id", "shop_id") REFERENCES "shop"("org_id", "id") ON DELETE RESTRICT ON UPDATE NO ACTION;

-- AddForeignKey
ALTER TABLE "refrigerant_entry" ADD CONSTRAINT "refrigerant_entry_org_id_shop_id_fkey" FOREIGN KEY ("org_id", "shop_id") REFERENCES "shop"("org_id", "id") ON DELETE RESTRICT ON UPDATE NO ACTION;

-- AddForeignKey
ALTER TABLE "refrigerant_entry" ADD CONSTRAINT "refrigerant_entry_org_id_cylinder_id_fkey" FOREIGN KEY ("org_id", "cylinder_id") REFERENCES "refrigerant_cylinder"("org_id", "id") ON DELETE RESTRICT ON UPDATE NO ACTION;

-- AddForeignKey
ALTER TABLE "refrigerant_entry" ADD CONSTRAINT "refrigerant_entry_org_id_machine_id_fkey" FOREIGN KEY ("org_id", "machine_id") REFERENCES "charging_machine"("org_id", "id") ON DELETE RESTRICT ON UPDATE NO ACTION;

-- One tenant sees its own rows, in every session and for the owner too.
ALTER TABLE "shop_weather" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "shop_weather" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "shop_weather" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "shop_weather" TO coolback_app;
ALTER TABLE "vehicle_merge" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "vehicle_merge" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "vehicle_merge" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "vehicle_merge" TO coolback_app;
ALTER TABLE "charging_machine" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "charging_machine" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "charging_machine" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "charging_machine" TO coolback_app;
ALTER TABLE "refrigerant_cylinder" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "refrigerant_cylinder" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "refrigerant_cylinder" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "refrigerant_cylinder" TO coolback_app;
ALTER TABLE "refrigerant_entry" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "refrigerant_entry" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "refrigerant_entry" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "refrigerant_entry" TO coolback_app;
